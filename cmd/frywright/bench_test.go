package main

import (
	"bytes"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/state"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// smokeFryers is the size of the fleet of the smoke bench: large enough that a page slow by design shows.
const smokeFryers = 5000

// smoke is an instance with a large fleet, every fryer read once, one in ten off.
func smoke(b *testing.B) (*instance, []state.Fryer) {
	b.Helper()
	x := newInstance(b)
	var sites, fryers strings.Builder
	sites.WriteString("code,customer,name,area,zone,gas\n")
	fryers.WriteString("tag,site,model\n")
	for i := range smokeFryers {
		if i%10 == 0 {
			fmt.Fprintf(&sites, "S%d,OT,Restaurant %d,north,Europe/Dublin,natural\n", i/10, i/10)
		}
		fmt.Fprintf(&fryers, "B-%05d,S%d,H1\n", i, i/10)
	}
	_, written, err := x.store.Import(x.office, []intake.File{{Name: "s.csv", Data: []byte(sites.String())}, {Name: "f.csv", Data: []byte(fryers.String())}}, false)
	require.NoError(b, err)
	require.True(b, written)
	var all []state.Fryer
	var drafts []journal.Draft
	for page := 0; ; page++ {
		list, err := x.store.Fryers(x.office, state.Filter{Page: page, PerPage: 500})
		require.NoError(b, err)
		all = append(all, list.Fryers...)
		if page+1 >= list.Pages {
			break
		}
	}
	for i, f := range all {
		value := sheet.Value("340")
		if i%10 == 0 {
			value = "350"
		}
		id := newID()
		drafts = append(drafts, journal.Draft{Subject: id, Body: snapshot.Begun{Fryer: f.ID, Purpose: snapshot.Routine}},
			journal.Draft{Subject: id, Body: snapshot.Finished{Readings: []snapshot.Reading{{Ref: sheet.Ref{Key: "setpoint", Vat: 1}, Value: value}, {Ref: sheet.Ref{Key: "pilot"}, Value: "off"}}}})
	}
	_, err = x.store.Record(x.office, drafts...)
	require.NoError(b, err)
	return x, all
}

// floor serves the same bytes from memory through the same kind of server: what a page costs apart from making it.
func floor(b *testing.B, page string) {
	b.Helper()
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte(page)) }))
	defer server.Close()
	for b.Loop() {
		resp, err := http.Get(server.URL)
		require.NoError(b, err)
		_, err = bytes.NewBuffer(nil).ReadFrom(resp.Body)
		require.NoError(b, err)
		require.NoError(b, resp.Body.Close())
	}
}

// BenchmarkSmoke measures the pages and the save that must not be slow by design, each beside a floor from the same run.
func BenchmarkSmoke(b *testing.B) {
	x, all := smoke(b)
	desk := x.client(access.Dispatcher)
	one := all[len(all)/2].ID
	for name, path := range map[string]string{"desk": "/desk", "fleet": "/fryers", "search": "/fryers?q=B-04", "fryer": "/fryers/" + one.String(), "expected": "/fryers/" + one.String() + "/expected"} {
		status, page := x.get(desk, path)
		require.Equal(b, http.StatusOK, status, path)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				x.get(desk, path)
			}
			b.ReportMetric(float64(len(page))/1000, "kB/page")
		})
		b.Run(name+"-floor", func(b *testing.B) { floor(b, page) })
	}
	b.Run("save a value", func(b *testing.B) { saveValues(b, x, desk, one) })
	b.Run("record a note", func(b *testing.B) {
		for b.Loop() {
			_, err := x.store.Record(x.office, journal.Draft{Subject: one, Body: snapshot.Note{Text: "smoke"}})
			require.NoError(b, err)
		}
	})
}

// saveValues answers one setting of an open reading again and again.
func saveValues(b *testing.B, x *instance, c *http.Client, fryer uuid.UUID) {
	b.Helper()
	id := newID()
	_, err := x.store.Record(x.office, journal.Draft{Subject: id, Body: snapshot.Begun{Fryer: fryer, Purpose: snapshot.Routine}})
	require.NoError(b, err)
	for b.Loop() {
		status, body := x.post(c, "/readings/"+id.String()+"/at/1", url.Values{"ref": {"setpoint@1"}, "typed": {"341"}})
		require.Equal(b, http.StatusSeeOther, status, body)
	}
}
