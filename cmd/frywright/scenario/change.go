package scenario

import (
	"slices"
	"time"

	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// turn is a house standard that changed within the year. The files hold what stands today.
type turn struct {
	level standard.Level
	of    string // code
	sheet string // code
	key   string
	old   sheet.Value // empty: it was not set
	days  int         // how long ago it changed
	why   string
}

var turns = []turn{
	{standard.OfCustomer, "BRK", "MOORHEN", "hold-time", "12", 250, "Chips held for twelve minutes went soft: ten."},
	{standard.OfCustomer, "OSP", "ORRERY", "signal.filter-after", "60", 205, "Oil tests in four kitchens: filter sooner."},
	{standard.OfCustomer, "LAN", "SANDGLASS", "doze-after", "", 130, "Half an hour is enough at night."},
	{standard.OfSite, "OSP-30", "MOORHEN", "p2.cook", "", 12, "Strips came out pale in the middle here: half a minute longer."},
}

// owner gives the id of whose standard a turn is, and of its sheet.
func (x *turn) owner(w *world) (of, sheetID uuid.UUID) {
	for id, s := range w.sheets {
		if s.Code == x.sheet {
			sheetID = id
		}
	}
	if x.level == standard.OfCustomer {
		return w.customer(x.of).ID, sheetID
	}
	return w.site(x.of).ID, sheetID
}

// before gives a standard of the files as it stood when the story began.
func before(w *world, b standard.Changed) standard.Changed {
	b.Set = slices.Clone(b.Set)
	for _, x := range turns {
		of, sheetID := x.owner(w)
		if b.Of != of || b.Sheet != sheetID {
			continue
		}
		i := slices.IndexFunc(b.Set, func(v standard.Value) bool { return v.Ref.Key == x.key })
		if b.Set[i].Value = x.old; !x.old.Known() {
			b.Set = slices.Delete(b.Set, i, i+1)
		}
	}
	return b
}

// planTurns plans the changes that made the standards what they are today.
func (t *teller) planTurns(b standard.Changed) {
	for _, x := range turns {
		of, sheetID := x.owner(t.world)
		if b.Of != of || b.Sheet != sheetID {
			continue
		}
		i := slices.IndexFunc(b.Set, func(v standard.Value) bool { return v.Ref.Key == x.key })
		next := standard.Changed{Level: b.Level, Of: b.Of, Sheet: b.Sheet, Set: b.Set[i : i+1], Why: x.why}
		t.plan(t.officeHour(x.days), func(at time.Time) { t.change(next, at, t.lead()) })
	}
}

// officeHour is a morning at the office, by the Atlantic, so many days ago.
func (t *teller) officeHour(days int) time.Time {
	day := t.now.AddDate(0, 0, -days)
	return time.Date(day.Year(), day.Month(), day.Day(), 12, 30, 0, 0, time.UTC)
}

// The fryers that the fleet gained, lost and moved within the year.
const (
	newcomerTag = "KF-4906" // came two days ago and was never read
	leaverTag   = "KF-2504" // retired two months ago
	moverTag    = "KF-4506" // stood at moverFrom until it moved
	moverFrom   = "OSP-45"
)

// standBefore brings a draft of the mover to where it stood when the story began.
func (t *teller) standBefore(d *journal.Draft) {
	if b, ok := d.Body.(fleet.FryerSaved); ok && b.Fryer.Tag == moverTag {
		t.moverTo = t.world.siteOf(d.Site)
		d.Site = t.world.site(moverFrom).ID
		b.Fryer.Site = d.Site
		d.Body = b
	}
}

// planFleet plans what comes, goes and moves.
func (t *teller) planFleet() {
	mover, to := t.world.fryer(moverTag), t.moverTo
	t.plan(t.officeHour(100), func(at time.Time) {
		from := mover.at
		mover.at = to
		mover.version = t.draft(journal.Draft{
			At: at, Author: t.desk(), Site: to.ID, Subject: mover.ID, Base: mover.version,
			Body: fleet.FryerMoved{From: from.ID, To: to.ID, Why: "Tinpan Mesa closed its second line."},
		})
	})
	leaver := t.world.fryer(leaverTag)
	t.plan(t.officeHour(61), func(at time.Time) {
		leaver.gone = true
		leaver.version = t.draft(journal.Draft{
			At: at, Author: t.desk(), Site: leaver.at.ID, Subject: leaver.ID, Base: leaver.version,
			Body: fleet.FryerRetired{Why: "The vat leaks at a weld: not worth another."},
		})
	})
}
