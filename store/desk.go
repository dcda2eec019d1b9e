package store

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strconv"
	"strings"
	"time"

	"frywright/domain/access"
	"frywright/domain/sheet"
	"frywright/domain/state"

	"github.com/google/uuid"
)

// fryerColumns are what scanFryer reads, over the tables of fryerJoins and a standing t.
const (
	fryerColumns = `f.id, f.tag, f.name, f.site_id, s.name, s.town, s.zone, s.customer_id, f.model_id, f.serial, f.installed, f.note, f.retired_at, f.version,
		t.places, t.matching, t.unknown, t.accepted, t.safety, t.food, t.output, t.minor, t.broken, t.put_back, t.ticked, t.since,
		t.last_read, t.last_purpose, t.stale_since, t.stale_what, t.cause, t.cause_odds, t.open_id,
		coalesce(o.known, 0), coalesce(o.begun, ''), coalesce(o.purpose, ''), coalesce(b.name, '')`
	fryerJoins = ` CROSS JOIN fryer f ON f.id = t.fryer_id CROSS JOIN site s ON s.id = f.site_id
		LEFT JOIN snapshot o ON o.id = t.open_id AND t.open_id <> '' LEFT JOIN person b ON b.id = o.author`
)

// scanFryer reads a fryer; names knows of its company and its model.
func (n *names) scanFryer(r interface{ Scan(...any) error }) (state.Fryer, error) {
	var f state.Fryer
	err := r.Scan(&f.ID, &f.Tag, &f.Name, &f.SiteID, &f.SiteName, &f.Town, &f.Zone, &f.CustomerID, &f.ModelID, &f.Serial, &f.Installed, &f.Note,
		timeOf{&f.Retired}, &f.Version,
		&f.Places, &f.Right, &f.Unknown, &f.Accepted, &f.ByClass[sheet.Safety], &f.ByClass[sheet.Food], &f.ByClass[sheet.Output],
		&f.ByClass[sheet.Minor], &f.Broken, &f.PutBack, &f.Ticked, timeOf{&f.Since}, timeOf{&f.LastRead}, &f.LastPurpose,
		timeOf{&f.StaleSince}, &f.StaleWhat, &f.Cause, &f.CauseOdds, &f.OpenID,
		&f.OpenDone, timeOf{&f.OpenBegun}, &f.OpenIntent, &f.OpenBy)
	m := n.models[f.ModelID]
	f.CustomerName, f.ModelName, f.SheetID, f.SheetName, f.Energy, f.Pot = n.customers[f.CustomerID], m.name, m.sheet, m.sheetName, m.energy, m.pot
	return f, err
}

// names are the few companies and models, as every list names them.
type names struct {
	customers map[uuid.UUID]string
	models    map[uuid.UUID]modelName
}

type modelName struct {
	name, sheetName string
	sheet           uuid.UUID
	energy          sheet.Energy
	pot             sheet.Pot
}

// names gives the names as they stand.
func (s *Store) names(q querier) (*names, error) {
	return remember(&s.named, s.changes.Load(), struct{}{}, func() (*names, error) {
		n := &names{customers: map[uuid.UUID]string{}, models: map[uuid.UUID]modelName{}}
		rows, err := q.query(`SELECT id, name FROM customer`)
		err = each(rows, err, func(r *sql.Rows) error {
			var id uuid.UUID
			var name string
			err := r.Scan(&id, &name)
			n.customers[id] = name
			return err
		})
		if err != nil {
			return nil, err
		}
		rows, err = q.query(`SELECT m.id, m.name, m.sheet_id, h.name, m.energy, m.pot FROM model m JOIN sheet h ON h.id = m.sheet_id`)
		return n, each(rows, err, func(r *sql.Rows) error {
			var id uuid.UUID
			var m modelName
			err := r.Scan(&id, &m.name, &m.sheet, &m.sheetName, &m.energy, &m.pot)
			n.models[id] = m
			return err
		})
	})
}

// Fryer gives one fryer with how it stands.
func (s *Store) Fryer(ctx context.Context, id uuid.UUID) (state.Fryer, error) {
	q := s.reader(ctx)
	n, err := s.names(q)
	if err != nil {
		return state.Fryer{}, err
	}
	f, err := n.scanFryer(q.row(`SELECT `+fryerColumns+` FROM standing t`+fryerJoins+` WHERE t.fryer_id = ?`, idText(id)))
	if err != nil {
		return f, orNotFound(err)
	}
	return f, need(ctx, access.SeeSite, f.SiteID)
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

// Limits of a list.
const (
	mostCounted  = 1000 // of a list whose length is not kept; beyond it is said that there are more
	mostListed   = 5000 // rows of a list that can be paged to: beyond them it must be narrowed
	mostOlderHrs = 24 * 366 * 20
)

// filter gives the conditions of a filter, but for its words, on the standing of fryers.
func (s *Store) filter(ctx context.Context, f state.Filter) where {
	var w where
	if condition, args := scope(ctx, "t.site_id"); condition != "1" {
		w.add(condition, args...)
	}
	switch {
	case f.Hands || f.Worst > 0:
		w.add("t.hands = 1") // no retired fryer needs any
	case !f.Retired:
		w.add("t.in_use = 1")
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
	if f.Customer != uuid.Nil {
		w.add("t.customer_id = ?", idText(f.Customer))
	}
	if f.Site != uuid.Nil {
		w.add("t.site_id = ?", idText(f.Site))
	}
	if f.Worst > 0 {
		// What is that bad ranks before everything less urgent.
		w.add("t.rank < ? AND t.worst >= ?", rankOf(urgencyOf[f.Worst]-1), int(f.Worst))
	}
	if f.OlderH > 0 {
		w.add("t.since <> '' AND t.since <= ?", timeText(s.now().Add(-time.Duration(min(f.OlderH, mostOlderHrs))*time.Hour)))
	}
	return w
}

// Fryers lists fryers: those that need hands worst first, or all by restaurant and tag.
func (s *Store) Fryers(ctx context.Context, f state.Filter) (state.Page, error) {
	if f.PerPage <= 0 {
		f.PerPage = 50
	}
	q := s.reader(ctx)
	order := "t.place"
	if f.Hands || f.Worst > 0 {
		order = "t.rank, t.fryer_id"
	}
	var page state.Page
	ids, err := s.idsOf(ctx, q, f, order, &page.Count)
	if err != nil {
		return page, err
	}
	list, err := idList(ids)
	if err != nil {
		return page, err
	}
	n, err := s.names(q)
	if err != nil {
		return page, err
	}
	page.Fryers, err = collect(q, `SELECT `+fryerColumns+many+`standing t ON t.fryer_id = k.value`+fryerJoins+` ORDER BY `+order,
		func(r *sql.Rows) (state.Fryer, error) { return n.scanFryer(r) }, list)
	return page, err
}

// idsOf gives the ids of the fryers on a page of a list, and how long the list is.
func (s *Store) idsOf(ctx context.Context, q querier, f state.Filter, order string, c *state.Count) ([]uuid.UUID, error) {
	if words := sought(f.Query); len(words) > 0 {
		return s.find(ctx, q, f, words, order, c)
	}
	w := s.filter(ctx, f)
	var err error
	if access.FromContext(ctx).SeesAllSites() && f.Site == uuid.Nil && f.OlderH == 0 {
		t := tallied(f)
		err = q.row(`SELECT coalesce(sum(y.n), 0) FROM tally y`+t.String(), t.args...).Scan(&c.Total)
	} else {
		err = counted(q, c, mostCounted, `SELECT 1 FROM standing t`+w.String(), w.args)
	}
	if err != nil {
		return nil, err
	}
	c.Cut(mostListed, f.Page, f.PerPage)
	return collect(q, `SELECT t.fryer_id FROM standing t`+w.String()+` ORDER BY `+order+` LIMIT ? OFFSET ?`, scanID, append(w.args, f.PerPage, c.Number*f.PerPage)...)
}

// counted counts the rows of a query as far as is worth it.
func counted(q querier, c *state.Count, most int, query string, args []any) error {
	err := q.row(`SELECT count(*) FROM (`+query+` LIMIT ?)`, append(args, most+1)...).Scan(&c.Total)
	if c.Total > most {
		c.Total, c.More = most, true
	}
	return err
}

// tallied gives the conditions of a filter on the tally.
func tallied(f state.Filter) where {
	var w where
	if f.Customer != uuid.Nil {
		w.add("y.customer_id = ?", idText(f.Customer))
	}
	if !f.Retired {
		w.add("y.in_use = 1")
	}
	for _, flag := range []struct {
		on   bool
		name string
	}{{f.Hands, "hands"}, {f.Stale, "stale"}, {f.Open, "open"}, {f.Never, "never"}} {
		if flag.on {
			w.add("y." + flag.name + " = 1")
		}
	}
	if f.Worst > 0 {
		w.add("y.hands = 1 AND y.worst >= ?", int(f.Worst))
	}
	return w
}

// Totals counts the fryers in use that the actor sees.
func (s *Store) Totals(ctx context.Context) (state.Totals, error) {
	var t state.Totals
	from := `tally y WHERE y.in_use = 1`
	condition, args := scope(ctx, "x.site_id")
	if len(args) > 0 {
		from = `(SELECT x.worst, x.stale_since <> '' AS stale, x.last_read = '' AS never, x.open_id <> '' AS open, 1 AS n FROM standing x
			WHERE x.in_use = 1 AND ` + condition + `) y WHERE 1`
	}
	rows, err := s.reader(ctx).query(`SELECT y.worst, sum(y.n), sum(y.n * y.stale), sum(y.n * y.never), sum(y.n * y.open) FROM `+from+` GROUP BY y.worst`, args...)
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

// Sites lists the restaurants that the actor sees.
func (s *Store) Sites(ctx context.Context, f state.SiteFilter) (state.SitePage, error) {
	if f.PerPage <= 0 {
		f.PerPage = 50
	}
	q := s.reader(ctx)
	var page state.SitePage
	query, order, args := sitesNamed(ctx, f)
	if f.Hands {
		query, order, args = sitesWithWork(ctx, f)
	}
	most := mostCounted
	if len(sought(f.Query)) > 0 {
		most = mostFound
	}
	if err := counted(q, &page.Count, most, query, args); err != nil {
		return page, err
	}
	page.Cut(mostListed, f.Page, f.PerPage)
	var err error
	page.Sites, err = collect(q, `SELECT s.id, s.code, s.name, s.town, s.area, s.customer_id, c.name, s.zone,
			count(t.fryer_id), coalesce(sum(t.worst > 0), 0), coalesce(sum(t.stale_since <> ''), 0), coalesce(max(t.worst), 0)
		FROM (`+query+order+` LIMIT ? OFFSET ?) k CROSS JOIN site s ON s.id = k.id JOIN customer c ON c.id = s.customer_id
		LEFT JOIN standing t ON t.site_id = s.id AND t.in_use = 1 GROUP BY s.id`, func(r *sql.Rows) (state.Site, error) {
		var x state.Site
		err := r.Scan(&x.ID, &x.Code, &x.Name, &x.Town, &x.Area, &x.CustomerID, &x.CustomerName, &x.Zone, &x.Fryers, &x.Wrong, &x.Stale, &x.Worst)
		return x, err
	}, append(args, f.PerPage, page.Number*f.PerPage)...)
	slices.SortFunc(page.Sites, func(a, b state.Site) int {
		if f.Hands {
			return cmp.Or(cmp.Compare(b.Worst, a.Worst), cmp.Compare(b.Wrong+b.Stale, a.Wrong+a.Stale), cmp.Compare(a.Name, b.Name))
		}
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.ID.String(), b.ID.String()))
	})
	return page, err
}

// sitesWithWork gives the query for the ids of the restaurants where somebody has to go, and their order.
func sitesWithWork(ctx context.Context, f state.SiteFilter) (query, order string, args []any) {
	var w where
	w.add("t.hands = 1")
	if condition, args := scope(ctx, "t.site_id"); condition != "1" {
		w.add(condition, args...)
	}
	if f.Customer != uuid.Nil {
		w.add("t.customer_id = ?", idText(f.Customer))
	}
	return `SELECT t.site_id AS id FROM standing t` + w.String() + ` GROUP BY t.site_id`, ` ORDER BY max(t.worst) DESC, count(*) DESC, t.site_id`, w.args
}

// sitesNamed gives the query for the ids of the restaurants that a filter leaves, and their order.
func sitesNamed(ctx context.Context, f state.SiteFilter) (query, order string, args []any) {
	var w where
	from := ` FROM site s`
	words := sought(f.Query)
	if len(words) > 0 {
		from = ` FROM (SELECT DISTINCT site_id AS id FROM site_word WHERE word >= ? AND word < ?) d CROSS JOIN site s ON s.id = d.id`
		w.args = []any{words[0], until(words[0])}
		for _, word := range words[1:] {
			w.add(`EXISTS (SELECT 1 FROM site_word n WHERE n.site_id = s.id AND n.word >= ? AND n.word < ?)`, word, until(word))
		}
	}
	if condition, args := scope(ctx, "s.id"); condition != "1" {
		w.add(condition, args...)
	}
	if f.Customer != uuid.Nil {
		w.add("s.customer_id = ?", idText(f.Customer))
	}
	if len(words) == 0 {
		return `SELECT s.id` + from + w.String(), ` ORDER BY s.name, s.id`, w.args
	}
	return `SELECT hit.id FROM (SELECT s.id, s.name` + from + w.String() + ` LIMIT ` + strconv.Itoa(mostFound+1) + `) hit`, ` ORDER BY hit.name, hit.id`, w.args
}
