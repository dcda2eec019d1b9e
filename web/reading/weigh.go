package reading

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"frywright/domain/drift"
	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/state"
	"frywright/web/form"
)

func after(ref sheet.Ref) string { return "?after=" + url.QueryEscape(ref.String()) }

// weighView is what is said of a value while it is typed.
type weighView struct {
	Finding *drift.Finding // nil: nothing typed, or nonsense
	Text    string         // empty: nothing typed
	Broken  []string       // what the value would break, with what was read besides
}

// Weigh says how a typed value would stand, before it is saved: a piece of a page.
func (p *Pages) Weigh(w http.ResponseWriter, r *http.Request) error {
	res, err := p.load(r)
	if err != nil {
		return err
	}
	ref, ok := sheet.ParseRef(r.URL.Query().Get("ref"))
	i := res.Expected.Position(ref)
	if !ok || i < 0 {
		return fault.New(fault.NotFound, "The controller has no such setting.")
	}
	v := weigh(&res, i, form.Tidy(r.URL.Query().Get("typed")))
	return form.Show(w, r, http.StatusOK, weighPiece(v))
}

func weigh(res *state.ReadingResult, i int, typed string) weighView {
	if typed == "" {
		return weighView{}
	}
	ref := res.Expected.List[i].Ref
	value, err := res.Expected.List[i].Setting.ParseLoose(typed)
	if err != nil {
		return weighView{Text: fault.MessageOf(err)}
	}
	values := res.Snapshot.Values()
	values[ref] = value
	compared := drift.Compare(res.Expected, values, nil, nil, time.Time{})
	return weighView{Finding: &compared.Findings[i], Text: outcome(res.Expected, &compared.Findings[i]), Broken: broken(&compared, ref)}
}

// broken lists what the value of a setting breaks: interlocks that name it, and rules that speak of it.
func broken(r *drift.Result, ref sheet.Ref) []string {
	var list []string
	for _, b := range r.Breaches {
		if slices.Contains(b.Interlock.Keys(), ref.Key) && (b.Vat == 0 || ref.Vat == 0 || b.Vat == ref.Vat) {
			list = append(list, b.Interlock.Label)
		}
	}
	for _, b := range r.Rules {
		if b.Ref == ref {
			list = append(list, b.Message)
		}
	}
	return list
}
