package standard

import "frywright/domain/sheet"

// Lay lays the layers over the factory values of the sheet, for one appliance. Layers may come in any order; they are
// taken by level, those of one level as they come. Within a layer a value for one vat is laid over a value for every vat.
func Lay(s *sheet.Sheet, a sheet.Appliance, layers []Layer) *Expected {
	places := s.Places(a)
	x := &Expected{
		Sheet: s, Appliance: a, List: make([]Expectation, len(places)), index: make(map[sheet.Ref]int, len(places)), bound: s.Bind(a),
	}
	laid := make([]laid, 0, len(places)+setsIn(layers))
	factory := Layer{Level: OfFactory, Name: s.Name + ", as it leaves the factory", Sets: make([]Set, len(places))}
	for i, p := range places {
		x.List[i].Place = p
		x.index[p.Ref] = i
		factory.Sets[i] = Set{Ref: p.Ref, Value: p.Setting.Factory}
		laid = lay(laid, i, &factory, &factory.Sets[i])
	}
	for _, level := range Levels() {
		for i := range layers {
			if layers[i].Level == level {
				laid = x.layOver(laid, &layers[i])
			}
		}
	}
	x.settle(laid)
	return x
}

func setsIn(layers []Layer) int {
	n := 0
	for i := range layers {
		n += len(layers[i].Sets)
	}
	return n
}

// laid is one value of a layer on the place that it speaks of.
type laid struct {
	at    int
	layer *Layer
	set   *Set
}

// lay adds a value. One that says nothing leaves what lies beneath.
func lay(all []laid, at int, l *Layer, set *Set) []laid {
	if !set.Value.Known() {
		return all
	}
	return append(all, laid{at, l, set})
}

func (x *Expected) layOver(all []laid, l *Layer) []laid {
	for i := range l.Sets {
		set := &l.Sets[i]
		for vat := 0; set.Ref.Vat == 0 && vat <= x.Appliance.Vats(); vat++ {
			if at, ok := x.index[sheet.Ref{Key: set.Ref.Key, Vat: vat}]; ok {
				all = lay(all, at, l, set)
			}
		}
	}
	for i := range l.Sets {
		set := &l.Sets[i]
		if at, ok := x.index[set.Ref]; ok && set.Ref.Vat != 0 {
			all = lay(all, at, l, set)
		}
	}
	return all
}

// settle gives every place its steps and the value of the last one. All of them share one array.
func (x *Expected) settle(all []laid) {
	count := make([]int, len(x.List))
	for _, l := range all {
		count[l.at]++
	}
	room := make([]Step, len(all))
	for i := range x.List {
		if n := count[i]; n > 0 {
			x.List[i].Steps = room[:0:n]
			room = room[n:]
		}
	}
	for _, l := range all {
		e := &x.List[l.at]
		e.Steps = append(e.Steps, Step{l.layer.Level, l.layer.Name, *l.set})
		e.Value = l.set.Value
	}
}
