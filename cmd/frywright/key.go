package main

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"frywright/web/account"
)

// factorKeyFile holds the key that seals the secrets of second factors. It is not in the database, so that a copy of the
// database alone makes nobody's codes. Without it the codes of apps cannot be checked; recovery codes still can.
const factorKeyFile = "second-step.key"

// factorKey gives how to read that key, making it where there is none yet.
func (e *environment) factorKey() func() ([]byte, error) {
	var making sync.Mutex
	return func() ([]byte, error) {
		making.Lock()
		defer making.Unlock()
		name := filepath.Join(e.data, factorKeyFile)
		key, err := os.ReadFile(name)
		if errors.Is(err, fs.ErrNotExist) {
			key, err = makeKey(name)
		}
		if err != nil {
			return nil, fmt.Errorf("key of second factors: %w", err)
		}
		return key, nil
	}
}

// makeKey writes a fresh key whole or not at all.
func makeKey(name string) ([]byte, error) {
	key := make([]byte, account.KeySize)
	_, _ = rand.Read(key) // never fails
	f, err := os.CreateTemp(filepath.Dir(name), filepath.Base(name)+".*")
	if err != nil {
		return nil, err
	}
	_, err = f.Write(key)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		return nil, errors.Join(err, os.Remove(f.Name()))
	}
	return key, nil
}
