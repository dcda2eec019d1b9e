package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"math"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/entry"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// samples are entries of every kind with every field filled.
func samples(t testing.TB) []journal.Entry {
	t.Helper()
	raw, err := os.ReadFile("../../domain/entry/testdata/v1-every-field.jsonl")
	require.NoError(t, err)
	var list []journal.Entry
	for scan := bufio.NewScanner(bytes.NewReader(raw)); scan.Scan(); {
		var e journal.Entry
		require.NoError(t, json.Unmarshal(scan.Bytes(), &e))
		list = append(list, e)
	}
	return list
}

// arrives makes an entry look as if it had just come from a phone of the administrator.
func (x *target) arrives(e journal.Entry) journal.Entry {
	e.ID, e.Device, e.N, e.Author = newID(), newID(), 1, x.people[access.Administrator]
	return e
}

// receive takes an entry in: there is a verdict, never an error, and the pages that show what came in are whole.
func (x *target) receive(t testing.TB, e journal.Entry, what string) store.Verdict {
	t.Helper()
	verdicts, err := x.store.Receive(x.office, []journal.Entry{e})
	require.NoError(t, err, what)
	require.Len(t, verdicts, 1)
	for _, path := range []string{"/set-aside", "/lately", "/desk"} {
		require.Equal(t, http.StatusOK, x.send(access.Administrator, http.MethodGet, path, "").Code, "%s after %s", path, what)
	}
	return verdicts[0]
}

// TestNoEnvelopeBreaksTheJournal spoils each field of the envelope, with the hash right for what it says and with a wrong one.
func TestNoEnvelopeBreaksTheJournal(t *testing.T) {
	x := newTarget(t)
	body, err := journal.Encode(snapshot.Note{Text: "the lid sticks"})
	require.NoError(t, err)
	long := strings.Repeat("long", 50_000)
	for what, spoil := range map[string]func(*journal.Entry){
		"no id":               func(e *journal.Entry) { e.ID = uuid.Nil },
		"a random id":         func(e *journal.Entry) { e.ID = uuid.New() },
		"no device":           func(e *journal.Entry) { e.Device = uuid.Nil },
		"n before the first":  func(e *journal.Entry) { e.N = 0 },
		"n below nothing":     func(e *journal.Entry) { e.N = math.MinInt64 },
		"no kind":             func(e *journal.Entry) { e.Kind = "" },
		"a kind of a newline": func(e *journal.Entry) { e.Kind = "note\nwritten" },
		"a kind not in UTF-8": func(e *journal.Entry) { e.Kind = "\xff\x00" },
		"a long kind":         func(e *journal.Entry) { e.Kind = long },
		"an old version":      func(e *journal.Entry) { e.V = math.MinInt32 },
		"a far version":       func(e *journal.Entry) { e.V = math.MaxInt64 },
		"no time":             func(e *journal.Entry) { e.At = time.Time{} },
		"before the year 0":   func(e *journal.Entry) { e.At = time.Date(-1, 1, 1, 0, 0, 0, 0, time.UTC) },
		"the year 0, east":    func(e *journal.Entry) { e.At = time.Date(0, 1, 1, 0, 0, 0, 0, time.FixedZone("", 14*3600)) },
		"the year 9999, west": func(e *journal.Entry) { e.At = time.Date(9999, 12, 31, 23, 0, 0, 0, time.FixedZone("", -12*3600)) },
		"the year 292277":     func(e *journal.Entry) { e.At = time.Unix(1<<43, 0) },
		"a zone that climbs":  func(e *journal.Entry) { e.Zone = "../../etc/passwd" },
		"a zone not in UTF-8": func(e *journal.Entry) { e.Zone = "\xff" },
		"a long zone":         func(e *journal.Entry) { e.Zone = long },
		"skew":                func(e *journal.Entry) { e.SkewMillis = math.MaxInt64 },
		"nobody":              func(e *journal.Entry) { e.Author = uuid.Nil },
		"an unknown author":   func(e *journal.Entry) { e.Author = newID() },
		"another site":        func(e *journal.Entry) { e.Site = x.other.site },
		"no site":             func(e *journal.Entry) { e.Site = uuid.Nil },
		"an unknown site":     func(e *journal.Entry) { e.Site = newID() },
		"no subject":          func(e *journal.Entry) { e.Subject = uuid.Nil },
		"an unknown subject":  func(e *journal.Entry) { e.Subject = newID() },
		"a base":              func(e *journal.Entry) { e.Base = newID() },
		"seq":                 func(e *journal.Entry) { e.Seq = -1 },
		"no body":             func(e *journal.Entry) { e.Body = nil },
		"half a body":         func(e *journal.Entry) { e.Body = json.RawMessage(`{"text":"a`) },
		"two bodies":          func(e *journal.Entry) { e.Body = json.RawMessage(`{"text":"a"}{"text":"b"}`) },
		"null":                func(e *journal.Entry) { e.Body = json.RawMessage(`null`) },
		"a list":              func(e *journal.Entry) { e.Body = json.RawMessage(`[1]`) },
		"deep":                func(e *journal.Entry) { e.Body = json.RawMessage(strings.Repeat(`{"a":`, 20_000)) },
		"not in UTF-8":        func(e *journal.Entry) { e.Body = json.RawMessage("{\"text\":\"caf\xe9\"}") },
		"half a surrogate":    func(e *journal.Entry) { e.Body = json.RawMessage(`{"text":"caf\ud800"}`) },
		"an override":         func(e *journal.Entry) { e.Body = json.RawMessage(`{"text":"\u202egpj.exe"}`) },
		"a long text":         func(e *journal.Entry) { e.Body = json.RawMessage(`{"text":"` + long + `"}`) },
		"NUL":                 func(e *journal.Entry) { e.Body = json.RawMessage(`{"text":"a\u0000b"}`) },
	} {
		e := x.arrives(journal.Entry{Kind: snapshot.KindNote, V: 1, At: now(), Zone: "UTC", Site: x.own.site, Subject: x.own.fryer, Body: body})
		spoil(&e)
		if sum, err := e.Sum(); err == nil {
			e.Hash = sum
		}
		verdict := x.receive(t, e, what)
		taken := []string{"a base", "seq", "skew", "a zone that climbs"}
		if !slices.Contains(taken, what) {
			assert.Equal(t, store.Quarantined, verdict, what)
		}
		if e.N != 1 {
			e.ID, e.N = newID(), 1
			assert.NotEqual(t, store.Gap, x.receive(t, e, what), "%s: a device is not asked for what it never had", what)
		}
		e.ID, e.Device, e.Hash = newID(), newID(), "0"
		assert.Equal(t, store.Quarantined, x.receive(t, e, what), "%s, with a wrong hash", what)
	}
	x.staysSound()
}

// TestASubjectIsWhatItsBodySays: a change that names one thing in its envelope and another in its body would pass by what
// others have changed meanwhile.
func TestASubjectIsWhatItsBodySays(t *testing.T) {
	x := newTarget(t)
	c, _, err := x.store.Customer(x.office, x.owner)
	require.NoError(t, err)
	site, _, err := x.store.Site(x.office, x.own.site)
	require.NoError(t, err)
	model, _, err := x.store.Model(x.office, x.model)
	require.NoError(t, err)
	f, _, err := x.store.FryerRecord(x.office, x.own.fryer)
	require.NoError(t, err)
	for _, b := range []journal.Body{
		fleet.CustomerSaved{Customer: c}, fleet.SiteSaved{Site: site}, fleet.ModelSaved{Model: model}, fleet.FryerSaved{Fryer: f},
		sheet.Saved{Sheet: x.sheetIs}, standard.Changed{Level: standard.OfCustomer, Of: x.owner, Sheet: x.sheet, Why: "x", Set: []standard.Value{{Ref: sheet.Ref{Key: "pilot"}, Value: "off"}}},
	} {
		raw, err := journal.Encode(b)
		require.NoError(t, err)
		e := x.arrives(journal.Entry{Kind: b.Kind(), V: 1, At: now(), Zone: "UTC", Subject: newID(), Body: raw})
		if b.Kind() == fleet.KindSiteSaved || b.Kind() == fleet.KindFryerSaved {
			e.Site = x.own.site
		}
		assert.Equal(t, store.Quarantined, x.receive(t, sealed(t, e), b.Kind()), b.Kind())
	}
}

// FuzzReceive takes in entries of every kind with bodies that another program made.
func FuzzReceive(f *testing.F) {
	all := samples(f)
	for i, e := range all {
		f.Add(uint8(i), string(e.Body), e.Zone, e.At.Unix(), int64(1), true)
	}
	f.Add(uint8(0), `{"customer":{"code":"\u202e"}}`, "..", int64(-1<<40), int64(-7), true)
	f.Add(uint8(7), `{"sheet":{"settings":[{"min":1e308,"step":1e-308,"after":["a"]}],"interlocks":[{"must":[{"op":"at-least"}]}]}}`, "UTC", int64(0), int64(1), false)
	x := newTarget(f)
	f.Fuzz(func(t *testing.T, which uint8, body, zone string, at, n int64, ours bool) {
		x.t = t
		e := x.arrives(all[int(which)%len(all)])
		e.Body, e.Zone, e.At, e.N = json.RawMessage(body), zone, time.Unix(at, 0), n
		if ours { // about what is here
			e.Subject, e.Site, e.Base = x.own.fryer, x.own.site, uuid.Nil
		}
		if sum, err := e.Sum(); err == nil {
			e.Hash = sum
		}
		verdict := x.receive(t, e, e.Kind)
		if verdict == store.Accepted {
			_, err := entry.Decode(e)
			require.NoError(t, err)
			for _, path := range []string{"/fryers/" + x.own.fryer.String(), "/fryers/" + x.own.fryer.String() + "/history", "/fryers", "/sites", "/sheets", "/standards"} {
				sound(t, x.send(access.Administrator, http.MethodGet, path, ""), path+" after "+e.Kind)
			}
		}
	})
}
