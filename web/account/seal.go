package account

import (
	"crypto/aes"
	"crypto/cipher"
	"encoding/base64"
	"errors"
	"fmt"

	"github.com/google/uuid"
)

// seal keeps the secrets of second factors unreadable in the database and in its copies: AES-256-GCM, bound to the
// person, with a key that is kept in a file of its own. Where the key is lost, recovery codes still let people in.
type seal struct{ key func() ([]byte, error) }

// KeySize is the size of the key, in bytes.
const KeySize = 32

func (s seal) aead() (cipher.AEAD, error) {
	if s.key == nil {
		return nil, errors.New("no key for second factors")
	}
	key, err := s.key()
	if err != nil {
		return nil, err
	}
	if len(key) != KeySize {
		return nil, fmt.Errorf("the key for second factors has %d bytes, not %d", len(key), KeySize)
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, err
	}
	return cipher.NewGCMWithRandomNonce(block)
}

// close seals a secret for a person.
func (s seal) close(id uuid.UUID, secret string) (string, error) {
	a, err := s.aead()
	if err != nil {
		return "", err
	}
	return base64.RawStdEncoding.EncodeToString(a.Seal(nil, nil, []byte(secret), id[:])), nil
}

// open gives the secret of a person; ok is false where it was sealed with another key.
func (s seal) open(id uuid.UUID, sealed string) (secret string, ok bool, err error) {
	a, err := s.aead()
	if err != nil {
		return "", false, err
	}
	raw, err := base64.RawStdEncoding.DecodeString(sealed)
	if err != nil {
		return "", false, nil //nolint:nilerr // what was never sealed opens with no key
	}
	text, err := a.Open(nil, nil, raw, id[:])
	return string(text), err == nil, nil
}
