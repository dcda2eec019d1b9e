package main

import (
	"net/http"
	"net/url"
	"testing"

	"frywright/domain/access"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestNamesOfEveryScriptAreKeptAndIsolated saves people with names from right to left, composed and apart; the page sets each
// apart from what stands beside it (HTML, the bdi element; UAX #9, 2.4.2).
func TestNamesOfEveryScriptAreKeptAndIsolated(t *testing.T) {
	x := newTarget(t)
	for typed, want := range map[string]string{
		"ليلى عباس":       "ليلى عباس",
		"שָׁלוֹם":         "שָׁלוֹם",
		"Cre\u0300me O'B": "Crème O&#39;B",
		"नि\u200dशा":      "नि\u200dशा",
		"Łucja 山田":        "Łucja 山田",
	} {
		path, values := x.shown["/people/{id}/edit"]()
		values.Set("name", typed)
		w := x.send(access.Administrator, http.MethodPost, path, values.Encode())
		require.Equal(t, http.StatusSeeOther, w.Code, typed)
		page := x.send(access.Administrator, http.MethodGet, "/people/"+x.guest.String(), "").Body.String()
		assert.Contains(t, page, "<bdi>"+want+"</bdi>")
	}
}

// TestNamesThatDeceiveAreRefused keeps what was typed and says what is wrong beside the field.
func TestNamesThatDeceiveAreRefused(t *testing.T) {
	x := newTarget(t)
	for typed, says := range map[string]string{
		"Mia \u202egpj.exe": "U+202E",
		"ad\u200bmin":       "U+200B",
		"\u2066Mia\u2069":   "U+2066",
		"Mia\U000e0041":     "U+E0041",
		"Mia \xff":          "arrived damaged",
		"\u3164":            "U+3164",
		"Mia\u0301\u0302\u0303\u0304\u0305\u0306": "More than 4 marks",
	} {
		path, values := x.shown["/people/{id}/edit"]()
		values.Set("name", typed)
		values["more_areas"] = []string{"kept area"}
		w := x.send(access.Administrator, http.MethodPost, path, values.Encode())
		require.Equal(t, http.StatusUnprocessableEntity, w.Code, "%q", typed)
		page := w.Body.String()
		assert.Contains(t, page, says)
		assert.Contains(t, page, `aria-invalid="true"`)
		assert.Contains(t, page, "kept area", "what was typed elsewhere is kept")
	}
	x.legible()
	_, found := x.get(x.client(access.Administrator), "/fryers?"+url.Values{"q": {"T-1\u202e"}}.Encode())
	assert.Contains(t, found, x.own.fryer.String(), "what is looked for may be pasted as it is")
}
