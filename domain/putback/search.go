package putback

import (
	"cmp"
	"slices"

	"frywright/domain/sheet"
)

// level says how an interlock stands: a larger one is worse.
type level int

const (
	whole level = iota
	unsure
	broken
)

func levelOf(o sheet.Outcome) level {
	switch o {
	case sheet.Broken:
		return broken
	case sheet.Unsure:
		return unsure
	default:
		return whole
	}
}

// price is what entering a line costs, or what an order may cost.
type price struct {
	breaks int // interlocks newly broken, each by the weight of its class
	again  int // interlocks that were broken as found, mended on the way, and are broken again
	unsure int // interlocks that were whole and will be, and may be broken meanwhile: what decides is not known
}

// less says whether a price is the better one: breaking something new is worse than any of the rest.
func (c price) less(d price) bool {
	return cmp.Or(cmp.Compare(c.breaks, d.breaks), cmp.Compare(c.again, d.again), cmp.Compare(c.unsure, d.unsure)) < 0
}

// part is lines that After and interlocks tie together. What happens in one part says nothing about another.
type part struct {
	*work
	lines   []int
	tied    bool           // by an interlock
	allowed price          // breaks: what may still be broken; the rest: whether it may be at all
	least   map[string]int // what has to be broken from a state on, by the lines entered
	effort  int            // steps that may still be tried
}

// The bounds of the search of a part: for the least price, and then for the order. Sheets' interlocks tie few settings, so
// that they are hardly ever reached; where they are, the rest of the order is taken as if it would turn out well.
const (
	priceEffort = 50_000
	orderEffort = 100_000
)

// anything is more than an order can cost.
const anything = 1 << 40

// divide finds the parts, and the least price at which each can be entered.
func (w *work) divide() {
	root := make([]int, len(w.lines))
	for i := range root {
		root[i] = i
	}
	var find func(int) int
	find = func(i int) int {
		if root[i] != i {
			root[i] = find(root[i])
		}
		return root[i]
	}
	owner := map[int]int{} // lock → a line
	for i := range w.lines {
		for _, j := range w.before[i] {
			root[find(j)] = find(i)
		}
		for _, n := range w.ties[i] {
			if j, ok := owner[n]; ok {
				root[find(j)] = find(i)
			}
			owner[n] = i
		}
	}
	byRoot := map[int]*part{}
	w.parts = make([]*part, len(w.lines))
	for i := range w.lines {
		p := byRoot[find(i)]
		if p == nil {
			p = &part{work: w}
			byRoot[find(i)] = p
		}
		p.lines = append(p.lines, i)
		p.tied = p.tied || len(w.ties[i]) > 0
		w.parts[i] = p
	}
	for i := range w.lines {
		if p := w.parts[i]; p.lines[0] == i {
			p.allow()
		}
	}
}

// allow finds the least price: first none, then one that leaves something unsure, then one that breaks again what was
// found broken, then what has to be broken.
func (p *part) allow() {
	for _, p.allowed = range []price{
		{}, {unsure: anything}, {unsure: anything, again: anything}, {unsure: anything, again: anything, breaks: anything},
	} {
		p.least, p.effort = map[string]int{}, priceEffort
		if least := p.rest(); least <= p.allowed.breaks {
			p.allowed.breaks = least
			break
		}
	}
	if p.effort >= 0 {
		p.effort = orderEffort
	}
}

// leads says whether entering a line leads to the end at the price allowed; quiet: without breaking anything by it.
func (p *part) leads(i int, quiet bool) bool {
	if !p.ready(i) {
		return false
	}
	if !p.tied {
		return true
	}
	return !(quiet && p.cost(i).breaks > 0) && p.through(i) <= p.allowed.breaks
}

// pay takes the price of a line off what is allowed.
func (p *part) pay(i int) { p.allowed.breaks -= p.cost(i).breaks }

// cost is what entering a line costs as things stand.
func (p *part) cost(i int) price {
	var c price
	after := p.levels(i)
	for k, n := range p.ties[i] {
		l := &p.locks[n]
		before := levelOf(l.Judge(p.value))
		switch {
		case after[k] <= before:
		case after[k] == broken && l.start == sheet.Broken:
			c.again++
		case after[k] == broken:
			c.breaks += weight(l.Interlock.Class)
		case levelOf(l.final) == whole:
			c.unsure++
		}
	}
	return c
}

// weight makes one interlock of a class weigh more than a hundred of the next milder one.
func weight(c sheet.Class) int {
	w := 1
	for ; c > sheet.Minor; c-- {
		w *= 101
	}
	return w
}

// rest gives what has to be broken to enter what is left of the part; anything where it cannot be at the price.
func (p *part) rest() int {
	at := p.entered()
	if known, ok := p.least[at]; ok {
		return known
	}
	least := anything
	if !slices.ContainsFunc(p.lines, func(i int) bool { return !p.done[i] }) {
		least = 0
	}
	for k := 0; least > 0 && k < len(p.lines); k++ {
		if i := p.lines[k]; p.ready(i) {
			least = min(least, p.through(i))
		}
	}
	p.least[at] = least
	return least
}

// through gives what has to be broken to enter a line now and then the rest.
func (p *part) through(i int) int {
	cost := p.cost(i)
	if cost.breaks > p.allowed.breaks || cost.again > p.allowed.again || cost.unsure > p.allowed.unsure {
		return anything
	}
	if p.effort--; p.effort < 0 {
		return cost.breaks
	}
	p.set(i, true)
	defer p.set(i, false)
	return min(anything, cost.breaks+p.rest())
}

// entered gives which lines of the part are entered, one bit a line.
func (p *part) entered() string {
	bits := make([]byte, (len(p.lines)+7)/8)
	for k, i := range p.lines {
		if p.done[i] {
			bits[k/8] |= 1 << (k % 8)
		}
	}
	return string(bits)
}
