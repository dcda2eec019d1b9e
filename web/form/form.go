// Package form reads what a person sent: path ids, form values and pages of lists, with limits. It must not know of any
// feature or of the store.
package form

import (
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/sheet"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
	"golang.org/x/text/unicode/norm"
)

// Limits of what is read.
const (
	bodyLimit  = 4 << 20 // bytes of a plain form
	queryLimit = 200     // characters of what is looked for
	pageLimit  = 100_000
)

// ID reads a UUID from the path; a NotFound fault where it is none.
func ID(r *http.Request, name string) (uuid.UUID, error) {
	id, err := uuid.Parse(chi.URLParam(r, name))
	if err != nil {
		return uuid.Nil, fault.New(fault.NotFound, "There is nothing at this address.")
	}
	return id, nil
}

// Ref reads a setting's ref from the path.
func Ref(r *http.Request, name string) (sheet.Ref, error) {
	ref, ok := sheet.ParseRef(chi.URLParam(r, name))
	if !ok {
		return ref, fault.New(fault.NotFound, "There is nothing at this address.")
	}
	return ref, nil
}

// Parse reads the form of a POST within the limits. What stands in the address beside it was not filled in by anybody and
// does not count.
func Parse(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, bodyLimit)
	if err := r.ParseForm(); err != nil {
		return fault.Wrap(err, fault.Invalid, "What was sent could not be read. Please send it again.")
	}
	r.Form = r.PostForm
	return nil
}

// Text gives one value, tidied. Nothing of it is cut off and nothing that could mean something is taken away: what may not
// stand in a record is refused by the record, so that the form keeps it and says why.
func Text(r *http.Request, name string) string { return Tidy(r.Form.Get(name)) }

var breaks = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u2028", "\n", "\u2029", "\n", "\t", " ")

// Tidy gives a text as it is kept: composed (Unicode's normalization form C), so that one word is one text from whatever
// keyboard; with plain line breaks; without control characters; trimmed. Bytes that are no UTF-8 become U+FFFD, which no
// record takes.
func Tidy(text string) string {
	text = breaks.Replace(strings.ToValidUTF8(text, string(utf8.RuneError)))
	text = strings.Map(func(c rune) rune {
		if c != '\n' && unicode.IsControl(c) {
			return -1
		}
		return c
	}, text)
	return norm.NFC.String(strings.TrimFunc(text, isBlank))
}

// isBlank says whether a character at the edge of a text takes up room at most: spaces, and what pasting leaves there.
func isBlank(c rune) bool { return unicode.IsSpace(c) || c == '\u200b' || c == '\ufeff' }

// Clean gives a text to look for, or to show in passing: one tidy line without characters that are not seen, cut to what
// anybody looks for.
func Clean(text string) string {
	text = Tidy(strings.Map(func(c rune) rune {
		if unicode.In(c, unicode.Bidi_Control, unicode.Noncharacter_Code_Point) || c == '\u200b' || c == '\ufeff' {
			return -1
		}
		return c
	}, text))
	text = strings.ReplaceAll(text, "\n", " ")
	if runes := []rune(text); len(runes) > queryLimit {
		text = string(runes[:queryLimit])
	}
	return strings.TrimFunc(text, isBlank)
}

// UUID gives one value as an id; Nil where it is none.
func UUID(r *http.Request, name string) uuid.UUID {
	id, err := uuid.Parse(strings.TrimSpace(r.Form.Get(name)))
	if err != nil {
		return uuid.Nil
	}
	return id
}

// EntryID gives the id that a form was given when it was shown, so that sending it twice does no harm. Only a UUIDv7
// counts; otherwise Nil, and the store makes one.
func EntryID(r *http.Request) uuid.UUID {
	id := UUID(r, "entry")
	if id.Version() != 7 {
		return uuid.Nil
	}
	return id
}

// commaGroups are numbers in which a comma could stand for thousands as well as for the fraction.
var commaGroups = regexp.MustCompile(`^[-−–+]?[1-9][0-9]{0,2}(,[0-9]{3})+$`)

// Number reads a number as people type it, without a unit. Empty is 0. A complaint goes to f.
func Number(r *http.Request, f *fault.Fields, name, label string) float64 {
	text := Text(r, name)
	if text == "" {
		return 0
	}
	n, ok := sheet.ParseNumber(text)
	switch {
	case !ok:
		f.Add(name, "%s is not a number.", label)
	case commaGroups.MatchString(text):
		f.Add(name, "%s can be read in two ways. Write %s without marks between the digits, or the fraction behind a point.", label, strings.ReplaceAll(text, ",", ""))
	case strings.ContainsFunc(text, unicode.IsLetter):
		// "30 kW" in a field of watts would be 30 W.
		f.Add(name, "%s is a number alone, in the unit that stands beside the field.", label)
	}
	return n
}

// OptionalNumber reads a number; nil where it is empty.
func OptionalNumber(r *http.Request, f *fault.Fields, name, label string) *float64 {
	if Text(r, name) == "" {
		return nil
	}
	n := Number(r, f, name, label)
	return &n
}

// Whole reads a whole number. Empty is 0.
func Whole(r *http.Request, f *fault.Fields, name, label string) int {
	n := Number(r, f, name, label)
	if n != float64(int(n)) {
		f.Add(name, "%s is a whole number.", label)
	}
	return int(n)
}

// Page gives the page of a list, from 0, of the query.
func Page(r *http.Request) int {
	n, err := strconv.Atoi(r.URL.Query().Get("page"))
	if err != nil || n < 1 {
		return 0
	}
	return min(n-1, pageLimit)
}

// Date reads a day, YYYY-MM-DD, as its end in a zone: "until the 5th" includes the 5th. A complaint goes to f.
func Date(r *http.Request, f *fault.Fields, name, zone string) time.Time {
	loc, err := fleet.Zone(zone)
	if err != nil {
		loc = time.UTC
	}
	day, err := time.ParseInLocation(time.DateOnly, Text(r, name), loc)
	if err != nil {
		f.Add(name, "Give the date as year-month-day, for example 2026-05-14.")
		return time.Time{}
	}
	return day.AddDate(0, 0, 1).UTC()
}

// Moment reads a day and a time of day in a zone, as datetime-local inputs send it. A complaint goes to f.
func Moment(r *http.Request, f *fault.Fields, name, zone string) time.Time {
	loc, err := fleet.Zone(zone)
	if err != nil {
		loc = time.UTC
	}
	text := Text(r, name)
	for _, layout := range []string{"2006-01-02T15:04", "2006-01-02T15:04:05", "2006-01-02 15:04"} {
		if t, err := time.ParseInLocation(layout, text, loc); err == nil {
			return t.UTC()
		}
	}
	f.Add(name, "Give day and time, for example 2026-05-14 21:40.")
	return time.Time{}
}

// Handler is a page's handler: it writes the page or gives the error that the one error table turns into a page.
type Handler func(w http.ResponseWriter, r *http.Request) error

// See sends the browser on after a POST, with the key of a notice to show there once.
func See(w http.ResponseWriter, r *http.Request, to, notice string) error {
	to, fragment, _ := strings.Cut(to, "#")
	if notice != "" {
		sep := "?"
		if strings.Contains(to, "?") {
			sep = "&"
		}
		to += sep + "notice=" + url.QueryEscape(notice)
	}
	if fragment != "" {
		to += "#" + fragment
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// Show writes a page with a status.
func Show(w http.ResponseWriter, r *http.Request, status int, page templ.Component) error {
	var b bytes.Buffer
	if err := page.Render(r.Context(), &b); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // an error here means that the reader went away: there is nobody to tell
	return nil
}

// Write writes a page with status 200, with 422 where the form on it was not accepted, or with 503 where it could not be
// saved just now.
func Write(w http.ResponseWriter, r *http.Request, page templ.Component, invalid error) error {
	switch {
	case fault.KindOf(invalid) == fault.Unavailable:
		return Show(w, r, http.StatusServiceUnavailable, page)
	case invalid != nil:
		return Show(w, r, http.StatusUnprocessableEntity, page)
	}
	return Show(w, r, http.StatusOK, page)
}
