package store

import "sync"

// mostRemembered bounds a memo; one that is full begins anew.
const mostRemembered = 20_000

// memo remembers what was read from the database until something is committed that may have changed it. One process writes,
// so counting its commits is enough to know. What is remembered is shared and must not be changed.
type memo[K comparable, V any] struct {
	mu      sync.RWMutex
	version int64 // of the database, as it is counted where the memo is kept
	known   map[K]V
}

func (m *memo[K, V]) get(version int64, k K) (v V, ok bool) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	if m.version == version {
		v, ok = m.known[k]
	}
	return v, ok
}

// put remembers what was read when the database had a version. What is older than what is remembered is let go.
func (m *memo[K, V]) put(version int64, k K, v V) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if version < m.version {
		return
	}
	if version > m.version || m.known == nil || len(m.known) >= mostRemembered {
		m.version, m.known = version, map[K]V{}
	}
	m.known[k] = v
}

// remember gives what is remembered, or loads it. The version must have been read before: what is committed while it is
// being loaded makes it out of date.
func remember[K comparable, V any](m *memo[K, V], version int64, k K, load func() (V, error)) (V, error) {
	if v, ok := m.get(version, k); ok {
		return v, nil
	}
	v, err := load()
	if err == nil {
		m.put(version, k, v)
	}
	return v, err
}
