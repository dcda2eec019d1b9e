package store

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAMemoForgetsWhatIsOutOfDate(t *testing.T) {
	var m memo[string, int]
	loads := 0
	load := func(v int) func() (int, error) {
		return func() (int, error) {
			loads++
			return v, nil
		}
	}
	get := func(version int64, v int) int {
		got, err := remember(&m, version, "a", load(v))
		require.NoError(t, err)
		return got
	}
	assert.Equal(t, 1, get(3, 1))
	assert.Equal(t, 1, get(3, 2), "remembered")
	assert.Equal(t, 2, get(4, 2), "something was committed")
	assert.Equal(t, 9, get(3, 9), "who began to read before the commit reads for themselves")
	assert.Equal(t, 2, get(4, 5), "and what they read is not remembered")
	assert.Equal(t, 3, loads)
	_, err := remember(&m, 4, "b", func() (int, error) { return 0, assert.AnError })
	require.ErrorIs(t, err, assert.AnError)
	_, ok := m.get(4, "b")
	assert.False(t, ok, "a failure is not remembered")
}

func TestAMemoIsBounded(t *testing.T) {
	var m memo[int, int]
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for k := range 2 * mostRemembered {
				m.put(1, k, k)
				if v, ok := m.get(1, k); ok && v != k {
					t.Errorf("%d is remembered as %d", k, v)
				}
			}
		})
	}
	all.Wait()
	assert.LessOrEqual(t, len(m.known), mostRemembered)
}
