// Package journal defines the entry: an immutable, typed, past-tense fact in an envelope. Everything that happens is
// an entry; tables are projections of entries. The package knows the envelope, its hash and how old versions are
// lifted; it must not know what any kind of entry means.
package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"frywright/domain/legible"

	"github.com/google/uuid"
)

// Entry is one fact. Fields up to Hash are made where it happened and never change; Seq and ReceivedAt are the
// server's.
type Entry struct {
	ID         uuid.UUID       `json:"id"`                   // UUIDv7 (RFC 9562), made where it happened
	Device     uuid.UUID       `json:"device"`               // the phone or server that made it
	N          int64           `json:"n"`                    // consecutive per device, from 1
	Kind       string          `json:"kind"`                 // noun.happened, for example "snapshot.finished"
	V          int             `json:"v"`                    // schema version of the kind, from 1
	At         time.Time       `json:"at"`                   // device time, UTC, to the millisecond
	Zone       string          `json:"zone"`                 // IANA zone of the site, or "UTC"
	SkewMillis int64           `json:"skew_ms"`              // measured offset: server clock minus device clock
	Author     uuid.UUID       `json:"author"`               // the person; Nil for the program itself
	Site       uuid.UUID       `json:"site"`                 // the site it belongs to; Nil for the company's entries
	Subject    uuid.UUID       `json:"subject"`              // what it is about
	Base       uuid.UUID       `json:"base"`                 // the last entry of the subject that the author saw; Nil for none
	Body       json.RawMessage `json:"body"`                 // compact JSON of the kind
	Hash       string          `json:"hash"`                 // see Sum
	Seq        int64           `json:"seq,omitempty"`        // order of commit on the server
	ReceivedAt time.Time       `json:"received_at,omitzero"` // server time of commit
}

// Sum gives the entry's hash: lower-case hex SHA-256 over these fields, each followed by a line feed, in this order:
// id, device, n, kind, v, at (RFC 3339 with milliseconds, UTC), zone, skew_ms, author, site, subject, base, and then the
// body with insignificant white space removed (RFC 8259), with no line feed after it. The body is hashed as it is written:
// whoever sends an entry on must not write its characters another way, as encoders do that escape for HTML.
func (e Entry) Sum() (string, error) {
	var body bytes.Buffer
	if err := json.Compact(&body, e.Body); err != nil {
		return "", fmt.Errorf("body of %s: %w", e.Kind, err)
	}
	head := strings.Join([]string{
		e.ID.String(), e.Device.String(), strconv.FormatInt(e.N, 10), e.Kind, strconv.Itoa(e.V),
		FormatTime(e.At), e.Zone, strconv.FormatInt(e.SkewMillis, 10), e.Author.String(), e.Site.String(),
		e.Subject.String(), e.Base.String(),
	}, "\n") + "\n"
	sum := sha256.Sum256(append([]byte(head), body.Bytes()...))
	return hex.EncodeToString(sum[:]), nil
}

// timeLayout is RFC 3339 with exactly three decimals, so that texts sort as times do.
const timeLayout = "2006-01-02T15:04:05.000Z07:00"

// FormatTime writes a time as the journal stores it: RFC 3339, UTC, milliseconds.
func FormatTime(t time.Time) string { return t.UTC().Format(timeLayout) }

// ParseTime reads what FormatTime wrote, or any RFC 3339 time. A leap second is the first moment of the day after it, for
// there is no other name for it here.
func ParseTime(s string) (time.Time, error) {
	text := strings.ToUpper(s) // RFC 3339 allows small letters
	t, err := time.Parse(time.RFC3339Nano, text)
	if err == nil {
		return t.UTC(), nil
	}
	if len(text) > leapAt+len(leap) && text[leapAt:leapAt+len(leap)] == leap {
		before, errLeap := time.Parse(time.RFC3339Nano, text[:leapAt]+":59"+text[leapAt+len(leap):])
		t = before.UTC().Add(time.Second)
		if errLeap == nil && t.Truncate(time.Second).Equal(time.Date(t.Year(), t.Month(), 1, 0, 0, 0, 0, time.UTC)) {
			return t, nil
		}
	}
	return time.Time{}, err
}

// Ordinary says whether a time is one that a working clock shows and that FormatTime writes so that texts sort as times
// do: from 1970, where clocks without a battery begin, to 2199.
func Ordinary(t time.Time) bool {
	year := t.UTC().Year()
	return year >= 1970 && year < 2200
}

// A leap second as RFC 3339 writes it, and where it stands.
const (
	leap   = ":60"
	leapAt = len("2006-01-02T15:04")
)

// wordLimit is the longest kind, and the longest name of a zone, in bytes.
const wordLimit = 100

// Check says what is wrong with the envelope itself, the hash included; the body is the kind's own business.
func (e Entry) Check() error {
	switch {
	case e.ID == uuid.Nil:
		return fmt.Errorf("entry without id")
	case e.ID.Version() != 7:
		return fmt.Errorf("entry %s: id is not a UUIDv7", e.ID)
	case e.Device == uuid.Nil:
		return fmt.Errorf("entry %s: no device", e.ID)
	case e.N < 1:
		return fmt.Errorf("entry %s: n is %d", e.ID, e.N)
	case e.Kind == "" || e.V < 1:
		return fmt.Errorf("entry %s: no kind or version", e.ID)
	case strings.ContainsAny(e.Kind+e.Zone, "\n"):
		return fmt.Errorf("entry %s: a line feed, which separates what is hashed", e.ID)
	case len(e.Kind) > wordLimit || len(e.Zone) > wordLimit || legible.Problem(e.Kind+e.Zone, false) != "":
		return fmt.Errorf("entry %s: its kind or its zone is no word", e.ID)
	case e.At.IsZero():
		return fmt.Errorf("entry %s: no time", e.ID)
	case !Ordinary(e.At):
		return fmt.Errorf("entry %s: a time that no clock shows", e.ID)
	case e.Subject == uuid.Nil:
		return fmt.Errorf("entry %s: no subject", e.ID)
	}
	sum, err := e.Sum()
	if err != nil {
		return err
	}
	if sum != e.Hash {
		return fmt.Errorf("entry %s: hash does not match", e.ID)
	}
	return nil
}

// Body is the typed content of an entry.
type Body interface {
	// Kind is the entry kind this body belongs to.
	Kind() string
	// Validate says in plain words what is wrong with it, as a fault.Invalid error with fields.
	Validate() error
}

// Draft is an entry about to be recorded: what the author decides. The store adds the rest of the envelope.
type Draft struct {
	ID      uuid.UUID // Nil: the store makes one; set it to make a repeated post harmless
	Site    uuid.UUID // the site it belongs to; Nil for the company's entries
	Subject uuid.UUID // what it is about
	Base    uuid.UUID // the version of the subject that the author saw; Nil when it is new, or for facts
	At      time.Time // zero: now
	Author  uuid.UUID // only the program itself records for somebody else; Nil: the actor
	Body    Body
}

// Encode gives the compact JSON of a body, with no HTML escaping, as it is stored, sent and hashed.
func Encode(b Body) (json.RawMessage, error) {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(b); err != nil {
		return nil, fmt.Errorf("encode %s: %w", b.Kind(), err)
	}
	return bytes.TrimRight(out.Bytes(), "\n"), nil
}
