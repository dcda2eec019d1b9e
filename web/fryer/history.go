package fryer

import (
	"math"
	"net/http"
	"strconv"
	"time"

	"frywright/domain/access"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"
)

const historyPerPage = 40

// historyView is what the history of a fryer shows.
type historyView struct {
	Frame ui.Frame
	Fryer state.Fryer
	List  []state.Happening
	Page  int
	More  bool
	Plain bool
}

// History shows what was done to a fryer, the latest first. Managers get what is told in plain words.
func (p *Pages) History(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	f, err := p.Store.Fryer(r.Context(), id)
	if err != nil {
		return err
	}
	v := historyView{Frame: ui.FrameFor(r, "History of "+f.Tag, "fryers"), Fryer: f, Page: form.Page(r), Plain: !may(r, access.SeeSettings, &f)}
	if v.List, err = p.Store.FryerHistory(r.Context(), id, v.Page, historyPerPage); err != nil {
		return err
	}
	// How many entries a page shows depends on who reads it, so whether there are more is asked of the next page.
	next, err := p.Store.FryerHistory(r.Context(), id, v.Page+1, historyPerPage)
	if err != nil {
		return err
	}
	v.More = len(next) > 0
	return form.Show(w, r, http.StatusOK, historyPage(v))
}

func (v *historyView) to(page int) string {
	if page == 0 {
		return path.FryerHistory(v.Fryer.ID)
	}
	return path.FryerHistory(v.Fryer.ID) + "?page=" + strconv.Itoa(page+1)
}

// skewShown is how far a device's clock may be off without a word about it.
const skewShown = 5 * time.Minute

func skewWords(skew time.Duration) string {
	return "The device’s clock was off by " + counted(int(math.Round(skew.Abs().Minutes())), "minute", "minutes") + "."
}
