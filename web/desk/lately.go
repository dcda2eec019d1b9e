package desk

import (
	"net/http"
	"strconv"
	"time"

	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// day is what came in on one day.
type day struct {
	Start time.Time // any moment of it
	List  []state.Happening
}

type latelyView struct {
	Frame ui.Frame
	Days  []day
	Page  int
	More  bool // there is an older page
	Aside int  // entries that wait to be settled
}

// Lately lists what came in, the latest first, by the day on which it came in.
func (p *Pages) Lately(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	v := latelyView{Frame: ui.FrameFor(r, "What came in lately", "lately"), Page: form.Page(r)}
	list, err := p.Store.Lately(ctx, v.Page, perPage)
	if err != nil {
		return err
	}
	older, err := p.Store.Lately(ctx, (v.Page+1)*perPage, 1) // the one entry behind this page, if there is one
	if err != nil {
		return err
	}
	aside, err := p.Store.SetAside(ctx)
	if err != nil {
		return err
	}
	v.Days, v.More, v.Aside = byDay(list), len(older) > 0, len(aside)
	return form.Show(w, r, http.StatusOK, latelyPage(v))
}

// byDay groups entries by the day on which they came in, in UTC: the fleet may lie in several zones, and a day has to
// be the same for all of them.
func byDay(list []state.Happening) []day {
	var days []day
	for _, h := range list {
		at := h.Received.UTC()
		n := len(days)
		if n == 0 || days[n-1].Start.Format(time.DateOnly) != at.Format(time.DateOnly) {
			days = append(days, day{Start: at})
			n++
		}
		days[n-1].List = append(days[n-1].List, h)
	}
	return days
}

// about gives the page of what an entry is about; empty where it has none.
func about(h *state.Happening) string {
	switch {
	case h.FryerID != uuid.Nil:
		return path.Fryer(h.FryerID)
	case h.SiteID != uuid.Nil:
		return path.Site(h.SiteID)
	default:
		return ""
	}
}

func latelyLink(page int) string {
	if page == 0 {
		return path.Lately()
	}
	return path.Lately() + "?page=" + strconv.Itoa(page+1)
}
