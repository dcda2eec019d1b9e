package store

import (
	"cmp"
	"encoding/binary"
	"errors"
	"slices"
	"time"

	"frywright/domain/sheet"
	"frywright/domain/snapshot"
)

// Readings are packed as a format number; the moments they share, in milliseconds of Unix time; then each reading, naming
// moments by their place. Numbers are varints, texts have their length before them.
const packFormat = 1

// errPacked says that packed readings cannot be read: the table must be made again from the journal.
var errPacked = errors.New("packed readings are damaged: rebuild the tables from the journal")

// packer writes packed readings.
type packer struct {
	moments []int64
	body    []byte
}

func (p *packer) number(n uint64) { p.body = binary.AppendUvarint(p.body, n) }

func (p *packer) text(s string) {
	p.number(uint64(len(s)))
	p.body = append(p.body, s...)
}

func (p *packer) ref(r sheet.Ref) {
	p.text(r.Key)
	p.body = binary.AppendVarint(p.body, int64(r.Vat))
}

func (p *packer) moment(t time.Time) {
	ms := t.UnixMilli()
	at := slices.Index(p.moments, ms) // few differ: a reading takes minutes, and most are taken together
	if at < 0 {
		at = len(p.moments)
		p.moments = append(p.moments, ms)
	}
	p.number(uint64(at)) //nolint:gosec // an index
}

// bytes gives the packed form of count readings.
func (p *packer) bytes(count int) []byte {
	out := make([]byte, 0, 16+9*len(p.moments)+len(p.body))
	out = append(out, packFormat)
	out = binary.AppendUvarint(out, uint64(len(p.moments)))
	for _, ms := range p.moments {
		out = binary.AppendVarint(out, ms)
	}
	return append(binary.AppendUvarint(out, uint64(count)), p.body...) //nolint:gosec // a count
}

// unpacker reads packed readings. What is damaged sets bad and reads as nothing.
type unpacker struct {
	rest    []byte
	moments []time.Time
	count   int
	bad     bool
}

func unpack(b []byte) *unpacker {
	u := &unpacker{rest: b}
	if len(b) == 0 {
		return u
	}
	if b[0] != packFormat {
		u.bad = true
		return u
	}
	u.rest = b[1:]
	u.moments = make([]time.Time, u.length())
	for i := range u.moments {
		ms, n := binary.Varint(u.rest)
		u.skip(n)
		u.moments[i] = time.UnixMilli(ms).UTC()
	}
	u.count = u.length()
	return u
}

func (u *unpacker) skip(n int) {
	if n <= 0 || n > len(u.rest) {
		u.bad, u.rest = true, nil
		return
	}
	u.rest = u.rest[n:]
}

func (u *unpacker) number() uint64 {
	v, n := binary.Uvarint(u.rest)
	u.skip(n)
	return v
}

// length reads how many follow; each of them takes a byte at least.
func (u *unpacker) length() int {
	n := u.number()
	if n > uint64(len(u.rest)) {
		u.bad = true
		return 0
	}
	return int(n) //nolint:gosec // bounded by the length of a slice
}

func (u *unpacker) text() string {
	n := u.length()
	s := string(u.rest[:n])
	if n > 0 {
		u.skip(n)
	}
	return s
}

func (u *unpacker) ref() sheet.Ref {
	key := u.text()
	vat, n := binary.Varint(u.rest)
	u.skip(n)
	return sheet.Ref{Key: key, Vat: int(vat)}
}

func (u *unpacker) moment() (t time.Time) {
	if n := u.number(); n < uint64(len(u.moments)) {
		return u.moments[n]
	}
	u.bad = true
	return t
}

func (u *unpacker) err() error {
	if u.bad {
		return errPacked
	}
	return nil
}

func compareRefs(a, b sheet.Ref) int {
	return cmp.Or(cmp.Compare(a.Key, b.Key), cmp.Compare(a.Vat, b.Vat))
}

func refsOf[V any](m map[sheet.Ref]V) []sheet.Ref {
	refs := make([]sheet.Ref, 0, len(m))
	for ref := range m {
		refs = append(refs, ref)
	}
	slices.SortFunc(refs, compareRefs)
	return refs
}

// storedReading is a reading with its moment: what happened to the controller while it was read parts what was read before
// from what was read after.
type storedReading struct {
	snapshot.Reading
	At time.Time
}

// Flags of a packed reading.
const (
	flagAsExpected = 1 << iota
	flagSkipped
)

// packReadings packs the readings of a snapshot, in a fixed order.
func packReadings(all map[sheet.Ref]storedReading) []byte {
	var p packer
	for _, ref := range refsOf(all) {
		r := all[ref]
		p.ref(ref)
		p.text(string(r.Value))
		p.text(r.Typed)
		var flags uint64
		if r.AsExpected {
			flags |= flagAsExpected
		}
		if r.Skipped {
			flags |= flagSkipped
		}
		p.number(flags)
		p.moment(r.At)
	}
	return p.bytes(len(all))
}

func unpackReadings(b []byte) (map[sheet.Ref]storedReading, error) {
	u := unpack(b)
	all := make(map[sheet.Ref]storedReading, u.count)
	for range u.count {
		var r storedReading
		r.Ref, r.Value, r.Typed = u.ref(), sheet.Value(u.text()), u.text()
		flags := u.number()
		r.AsExpected, r.Skipped = flags&flagAsExpected != 0, flags&flagSkipped != 0
		r.At = u.moment()
		all[r.Ref] = r
	}
	return all, u.err()
}

// pack packs what is known of a fryer, in a fixed order.
func (k knownValues) pack() []byte {
	var p packer
	for _, ref := range refsOf(k) {
		v := k[ref]
		p.ref(ref)
		p.text(string(v.Value))
		p.moment(v.At)
		p.moment(v.Since)
	}
	return p.bytes(len(k))
}

func unpackKnown(b []byte) (knownValues, error) {
	u := unpack(b)
	known := make(knownValues, u.count)
	for range u.count {
		var v knownValue
		v.Ref, v.Value, v.At, v.Since = u.ref(), sheet.Value(u.text()), u.moment(), u.moment()
		known[v.Ref] = v
	}
	return known, u.err()
}
