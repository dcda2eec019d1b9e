package bench

import (
	"encoding/binary"
	"fmt"
	"iter"
	"math/rand/v2"
	"time"

	"frywright/domain/entry"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/store"

	"github.com/google/uuid"
)

// Plan says which fleet is invented: the same plan gives the same entries, to the byte.
type Plan struct {
	Seed   uint64
	Fryers int // a multiple of perSite, at least fewestFryers
}

// What a fleet is made of.
const (
	perSite         = 10  // fryers a restaurant
	fewestFryers    = 200 // fewer than that, and the company's own entries outweigh the fryers'
	entriesPerFryer = 20
	mostCustomers   = 25
	largeShare      = 10 // one in so many fryers is the large customer's, all of one controller type
	sitesPerArea    = 100
	storyDays       = 730
	story           = 1 // raise it when the same plan would give other entries than before
)

// end is the moment up to which the story is told.
var end = time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)

func begin() time.Time { return end.AddDate(0, 0, -storyDays) }

// sites gives the number of restaurants.
func (p Plan) sites() int { return p.Fryers / perSite }

// Entries gives the number of entries of the plan.
func (p Plan) Entries() int { return p.Fryers * entriesPerFryer }

// check says what is wrong with a plan.
func (p Plan) check() error {
	if p.Fryers < fewestFryers || p.Fryers%perSite != 0 {
		return fmt.Errorf("a fleet has at least %d fryers, in tens: %d will not do", fewestFryers, p.Fryers)
	}
	return nil
}

// house rules of one restaurant company.
type customer struct {
	fleet.Customer
	kits []int // the controller types that it has
}

// place is one restaurant.
type place struct {
	fleet.Site
	customer int
	area     int
	own      *standard.Changed // its own standard; nil for none
	first    int               // its first fryer
}

// machine is one fryer while its story is told.
type machine struct {
	id, model uuid.UUID
	tag       string
	kit       int
	electric  bool
	place     int
	late      bool              // it came lately and was never read
	own       *standard.Changed // its own standard; nil for none
	off       []deviation       // how its controller differs from what is expected
}

// deviation is one value that is not as expected.
type deviation struct {
	at    int // in the order of what is expected
	value sheet.Value
}

// teller tells the story, entry by entry.
type teller struct {
	plan      Plan
	rnd       *rand.Rand
	yield     func(store.Filed, error) bool
	over      bool // whoever listens has heard enough, or something failed
	count     int
	last      map[uuid.UUID]int64 // n by device
	devices   map[uuid.UUID]uuid.UUID
	kits      []kit
	customers []customer
	places    []place
	machines  []machine
	crew      crew
	laid      map[layKey]*standard.Expected
}

// Tell gives the journal of the plan in its order, as it came in.
func (p Plan) Tell() iter.Seq2[store.Filed, error] {
	return func(yield func(store.Filed, error) bool) {
		if err := p.check(); err != nil {
			yield(store.Filed{}, err)
			return
		}
		t := &teller{
			plan: p, yield: yield, last: map[uuid.UUID]int64{}, devices: map[uuid.UUID]uuid.UUID{}, laid: map[layKey]*standard.Expected{},
			rnd: rand.New(rand.NewPCG(p.Seed, uint64(p.Fryers))),
		}
		t.found()
		t.visits()
		t.present()
		t.fill()
		if !t.over && t.count != p.Entries() {
			yield(store.Filed{}, fmt.Errorf("the story has %d entries, not %d", t.count, p.Entries()))
		}
	}
}

// newID makes a UUIDv7 (RFC 9562) of a moment, its random part from the seed.
func (t *teller) newID(at time.Time) uuid.UUID {
	var id uuid.UUID
	binary.BigEndian.PutUint64(id[8:], t.rnd.Uint64())
	binary.BigEndian.PutUint64(id[:], uint64(at.UnixMilli())<<16|uint64(t.rnd.Uint32N(1<<12)))
	id[6] = id[6]&0x0f | 0x70
	id[8] = id[8]&0x3f | 0x80
	return id
}

// about says what an entry is about.
type about struct {
	author  uuid.UUID
	place   *place // nil for the company's
	subject uuid.UUID
	fryer   uuid.UUID
}

// tell writes one entry down.
func (t *teller) tell(at time.Time, of about, body journal.Body) {
	if t.over {
		return
	}
	f, err := t.filed(at, of, body)
	t.count++
	t.over = !t.yield(f, err) || err != nil
}

func (t *teller) filed(at time.Time, of about, body journal.Body) (store.Filed, error) {
	device, had := t.devices[of.author]
	if !had {
		device = t.newID(begin())
		t.devices[of.author] = device
	}
	t.last[device]++
	spec, _ := entry.Find(body.Kind())
	at = at.UTC().Truncate(time.Millisecond)
	e := journal.Entry{
		ID: t.newID(at), Device: device, N: t.last[device], Kind: body.Kind(), V: spec.Version(), At: at, Zone: "UTC",
		Author: of.author, Subject: of.subject, ReceivedAt: at.Add(time.Duration(200+t.rnd.IntN(2000)) * time.Millisecond),
	}
	if of.place != nil {
		e.Site, e.Zone = of.place.ID, of.place.Zone
	}
	var err error
	if e.Body, err = journal.Encode(body); err != nil {
		return store.Filed{}, err
	}
	e.Hash, err = e.Sum()
	return store.Filed{Entry: e, Body: body, Fryer: of.fryer}, err
}

// layKey is what decides what is expected of a fryer that has no standard of its own, at a restaurant that has none.
type layKey struct {
	customer, kit int
	electric      bool
}

// expected gives what is expected of a fryer.
func (t *teller) expected(m *machine) *standard.Expected {
	p := &t.places[m.place]
	key := layKey{p.customer, m.kit, m.electric}
	site := p.own
	if site != nil && site.Sheet != t.kits[m.kit].sheet.ID {
		site = nil
	}
	if site != nil || m.own != nil {
		return t.lay(key, site, m.own)
	}
	if _, had := t.laid[key]; !had {
		t.laid[key] = t.lay(key)
	}
	return t.laid[key]
}

func (t *teller) lay(key layKey, own ...*standard.Changed) *standard.Expected {
	k := &t.kits[key.kit]
	appliance := sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}
	if key.electric {
		appliance.Energy = sheet.Electric
	}
	layers := []standard.Layer{{Level: standard.OfCustomer, Sets: sets(house(&k.sheet, key.customer))}}
	for _, c := range own {
		if c != nil {
			layers = append(layers, standard.Layer{Level: c.Level, Sets: sets(c.Set)})
		}
	}
	return standard.Lay(&k.sheet, appliance, layers)
}

func sets(values []standard.Value) []standard.Set {
	list := make([]standard.Set, len(values))
	for i, v := range values {
		list[i] = standard.Set{Ref: v.Ref, Value: v.Value}
	}
	return list
}
