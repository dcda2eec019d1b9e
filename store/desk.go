package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"

	"frywright/domain/access"
	"frywright/domain/sheet"
	"frywright/domain/state"

	"github.com/google/uuid"
)

// fryerColumns are what scanFryer reads, over the tables of fryerTables.
const (
	fryerColumns = `f.id, f.tag, f.name, f.site_id, s.name, s.town, s.zone, s.customer_id, c.name, f.model_id, m.name, m.sheet_id, h.name,
		m.energy, m.pot, f.serial, f.installed, f.note, f.retired_at, f.version,
		t.places, t.matching, t.unknown, t.accepted, t.safety, t.food, t.output, t.minor, t.broken, t.put_back, t.ticked, t.since,
		t.last_read, t.last_purpose, t.stale_since, t.stale_what, t.cause, t.cause_odds, t.open_id`
	fryerJoins = ` JOIN site s ON s.id = f.site_id JOIN customer c ON c.id = s.customer_id
		JOIN model m ON m.id = f.model_id JOIN sheet h ON h.id = m.sheet_id`
	fryerTables = ` FROM fryer f JOIN standing t ON t.fryer_id = f.id` + fryerJoins
	// deskTables begins with the standing, so that the desk's own index gives the order.
	deskTables = ` FROM standing t CROSS JOIN fryer f ON f.id = t.fryer_id` + fryerJoins
	// fleetTables begins with the restaurants by name, so that a page of the whole fleet sorts nothing.
	fleetTables = ` FROM site s CROSS JOIN fryer f ON f.site_id = s.id JOIN standing t ON t.fryer_id = f.id
		JOIN customer c ON c.id = s.customer_id JOIN model m ON m.id = f.model_id JOIN sheet h ON h.id = m.sheet_id`
	// countTables is enough to count where no text is looked for.
	countTables = ` FROM fryer f JOIN standing t ON t.fryer_id = f.id`
	countHands  = ` FROM standing t CROSS JOIN fryer f ON f.id = t.fryer_id`
)

func scanFryer(r interface{ Scan(...any) error }) (state.Fryer, error) {
	var f state.Fryer
	err := r.Scan(&f.ID, &f.Tag, &f.Name, &f.SiteID, &f.SiteName, &f.Town, &f.Zone, &f.CustomerID, &f.CustomerName, &f.ModelID, &f.ModelName,
		&f.SheetID, &f.SheetName, &f.Energy, &f.Pot, &f.Serial, &f.Installed, &f.Note, timeOf{&f.Retired}, &f.Version,
		&f.Places, &f.Right, &f.Unknown, &f.Accepted, &f.ByClass[sheet.Safety], &f.ByClass[sheet.Food], &f.ByClass[sheet.Output],
		&f.ByClass[sheet.Minor], &f.Broken, &f.PutBack, &f.Ticked, timeOf{&f.Since}, timeOf{&f.LastRead}, &f.LastPurpose,
		timeOf{&f.StaleSince}, &f.StaleWhat, &f.Cause, &f.CauseOdds, &f.OpenID)
	return f, err
}

// Fryer gives one fryer with how it stands.
func (s *Store) Fryer(ctx context.Context, id uuid.UUID) (state.Fryer, error) {
	q := s.reader(ctx)
	f, err := scanFryer(q.row(`SELECT `+fryerColumns+fryerTables+` WHERE f.id = ?`, idText(id)))
	if err != nil {
		return f, orNotFound(err)
	}
	if err := need(ctx, access.SeeSite, f.SiteID); err != nil {
		return f, err
	}
	err = loadOpen(q, &f)
	return f, err
}

// loadOpen adds what is known of the open reading of a fryer, where there is one.
func loadOpen(q querier, f *state.Fryer) error {
	if f.OpenID == uuid.Nil {
		return nil
	}
	return q.row(`SELECT x.known, x.begun, x.purpose, coalesce(p.name, '') FROM snapshot x LEFT JOIN person p ON p.id = x.author WHERE x.id = ?`,
		idText(f.OpenID)).Scan(&f.OpenDone, timeOf{&f.OpenBegun}, &f.OpenIntent, &f.OpenBy)
}

// FryerByTag gives the id of the fryer with an asset tag.
func (s *Store) FryerByTag(ctx context.Context, tag string) (uuid.UUID, error) {
	var id, site uuid.UUID
	if err := s.reader(ctx).row(`SELECT id, site_id FROM fryer WHERE tag = ?`, strings.TrimSpace(tag)).Scan(&id, &site); err != nil {
		return id, orNotFound(err)
	}
	return id, need(ctx, access.SeeSite, site)
}

// where collects conditions and their arguments.
type where struct {
	conditions []string
	args       []any
}

func (w *where) add(condition string, args ...any) {
	w.conditions = append(w.conditions, condition)
	w.args = append(w.args, args...)
}

func (w *where) String() string {
	if len(w.conditions) == 0 {
		return ""
	}
	return " WHERE " + strings.Join(w.conditions, " AND ")
}

// Limits of a search: what goes beyond them is passed over.
const (
	mostWords    = 8
	longestWord  = 100
	mostOlderHrs = 24 * 366 * 20
)

// patterns gives the LIKE pattern of every word of a search text.
func patterns(query string) []string {
	words := strings.Fields(query)
	list := make([]string, 0, mostWords)
	for _, word := range words[:min(len(words), mostWords)] {
		if runes := []rune(word); len(runes) > longestWord {
			word = string(runes[:longestWord])
		}
		list = append(list, likeText(word))
	}
	return list
}

// likeText makes a LIKE pattern that finds the text anywhere, taken literally.
func likeText(text string) string {
	return "%" + strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(text) + "%"
}

func (s *Store) filter(ctx context.Context, f state.Filter) where {
	var w where
	if condition, args := scope(ctx, "f.site_id"); condition != "1" {
		w.add(condition, args...)
	}
	if f.Hands {
		w.add("t.hands = 1")
	}
	if f.Stale {
		w.add("t.stale_since <> ''")
	}
	if f.Open {
		w.add("t.open_id <> ''")
	}
	if f.Never {
		w.add("t.last_read = ''")
	}
	if !f.Retired {
		w.add("f.retired_at = ''")
	}
	if f.Customer != uuid.Nil {
		w.add("f.site_id IN (SELECT id FROM site WHERE customer_id = ?)", idText(f.Customer))
	}
	if f.Site != uuid.Nil {
		w.add("f.site_id = ?", idText(f.Site))
	}
	if f.Worst > 0 {
		w.add("t.worst >= ?", int(f.Worst))
	}
	if f.OlderH > 0 {
		w.add("t.since <> '' AND t.since <= ?", timeText(s.now().Add(-time.Duration(min(f.OlderH, mostOlderHrs))*time.Hour)))
	}
	for _, p := range patterns(f.Query) {
		w.add(`(f.tag LIKE ? ESCAPE '\' OR f.name LIKE ? ESCAPE '\' OR f.serial LIKE ? ESCAPE '\' OR s.name LIKE ? ESCAPE '\' OR s.town LIKE ? ESCAPE '\' OR c.name LIKE ? ESCAPE '\')`,
			p, p, p, p, p, p)
	}
	return w
}

// Fryers lists fryers: those that need hands worst first, or all by restaurant and tag.
func (s *Store) Fryers(ctx context.Context, f state.Filter) (state.Page, error) {
	if f.PerPage <= 0 {
		f.PerPage = 50
	}
	w := s.filter(ctx, f)
	from, order := fleetTables, " ORDER BY s.name, s.id, f.tag"
	if f.Hands {
		from, order = deskTables, " ORDER BY t.urgency DESC, t.since, t.fryer_id"
	}
	q := s.reader(ctx)
	page := state.Page{Number: max(f.Page, 0)}
	counted := countTables
	switch {
	case f.Query != "":
		counted = fryerTables
	case f.Hands:
		counted = countHands
	}
	if err := q.row(`SELECT count(*)`+counted+w.String(), w.args...).Scan(&page.Total); err != nil {
		return page, err
	}
	page.Pages = (page.Total + f.PerPage - 1) / f.PerPage
	page.Number = min(page.Number, max(page.Pages-1, 0))
	rows, err := q.query(`SELECT `+fryerColumns+from+w.String()+order+` LIMIT ? OFFSET ?`, append(w.args, f.PerPage, page.Number*f.PerPage)...)
	err = each(rows, err, func(r *sql.Rows) error {
		fryer, err := scanFryer(r)
		page.Fryers = append(page.Fryers, fryer)
		return err
	})
	for i := range page.Fryers {
		err = errors.Join(err, loadOpen(q, &page.Fryers[i]))
	}
	return page, err
}

// Totals counts the fryers in use that the actor sees.
func (s *Store) Totals(ctx context.Context) (state.Totals, error) {
	var t state.Totals
	from := `FROM standing t WHERE t.in_use = 1`
	condition, args := scope(ctx, "f.site_id")
	if len(args) > 0 {
		from = `FROM fryer f JOIN standing t ON t.fryer_id = f.id WHERE t.in_use = 1 AND ` + condition
	}
	rows, err := s.reader(ctx).query(`SELECT t.worst, count(*), sum(t.stale_since <> ''), sum(t.last_read = ''), sum(t.open_id <> '') `+from+
		` GROUP BY t.worst`, args...)
	err = each(rows, err, func(r *sql.Rows) error {
		var worst, n, stale, never, open int
		if err := r.Scan(&worst, &n, &stale, &never, &open); err != nil {
			return err
		}
		t.Fryers += n
		t.ByWorst[worst] += n
		t.Stale += stale
		t.Never += never
		t.Open += open
		return nil
	})
	return t, err
}

// Sites lists the restaurants that the actor sees, by name, narrowed by a search text and a customer.
func (s *Store) Sites(ctx context.Context, query string, customer uuid.UUID) ([]state.Site, error) {
	var w where
	condition, args := scope(ctx, "s.id")
	w.add(condition, args...)
	if customer != uuid.Nil {
		w.add("s.customer_id = ?", idText(customer))
	}
	for _, p := range patterns(query) {
		w.add(`(s.name LIKE ? ESCAPE '\' OR s.town LIKE ? ESCAPE '\' OR s.code LIKE ? ESCAPE '\' OR c.name LIKE ? ESCAPE '\')`, p, p, p, p)
	}
	var sites []state.Site
	rows, err := s.reader(ctx).query(`SELECT s.id, s.code, s.name, s.town, s.area, s.customer_id, c.name, s.zone,
			(SELECT count(*) FROM fryer f WHERE f.site_id = s.id AND f.retired_at = ''),
			(SELECT count(*) FROM fryer f JOIN standing t ON t.fryer_id = f.id WHERE f.site_id = s.id AND f.retired_at = '' AND t.worst > 0),
			(SELECT count(*) FROM fryer f JOIN standing t ON t.fryer_id = f.id WHERE f.site_id = s.id AND f.retired_at = '' AND t.stale_since <> ''),
			(SELECT coalesce(max(t.worst), 0) FROM fryer f JOIN standing t ON t.fryer_id = f.id WHERE f.site_id = s.id AND f.retired_at = '')
		FROM site s JOIN customer c ON c.id = s.customer_id`+w.String()+` ORDER BY s.name, s.id LIMIT 500`, w.args...)
	err = each(rows, err, func(r *sql.Rows) error {
		var x state.Site
		err := r.Scan(&x.ID, &x.Code, &x.Name, &x.Town, &x.Area, &x.CustomerID, &x.CustomerName, &x.Zone, &x.Fryers, &x.Wrong, &x.Stale, &x.Worst)
		sites = append(sites, x)
		return err
	})
	return sites, err
}
