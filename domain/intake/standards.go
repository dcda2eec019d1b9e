package intake

import (
	"slices"
	"strings"
	"unicode/utf8"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/legible"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// layerKey names one layer.
type layerKey struct {
	level     standard.Level
	of, sheet uuid.UUID
}

// layer is one layer while its rows are judged.
type layer struct {
	layerKey
	site    uuid.UUID
	version uuid.UUID
	holds   map[sheet.Ref]sheet.Value
	spoken  map[sheet.Ref]place
	set     []standard.Value
	clear   []sheet.Ref
	whys    []string
}

// layers are the layers that rows speak of, in the order in which they first do.
type layers struct {
	list  []*layer
	byKey map[layerKey]*layer
}

// owner is whose standard a row is about.
type owner struct {
	id    uuid.UUID
	known bool
	site  uuid.UUID    // Nil for a model and a customer
	model *fleet.Model // nil for a customer and a site
}

func (p *planner) takeStandards(rows []*line) {
	p.layers = layers{byKey: map[layerKey]*layer{}}
	p.each(rows, p.takeStandard)
	for _, y := range p.layers.list {
		p.saveLayer(y)
	}
}

func (p *planner) takeStandard(l *line) {
	level, key := standard.Level(fold(l.text("level"))), fold(l.text("key"))
	l.out.What = "standard of " + string(level) + " " + l.text("of") + ": " + key
	who := p.owner(l, level)
	sh := p.sheets.refer(l, "sheet")
	if l.text("sheet") == "" {
		l.bad("sheet", "Name the settings sheet.")
	}
	vat := l.vat()
	if who == nil || sh == nil {
		return
	}
	if who.model != nil && who.model.Sheet != sh.value.ID {
		l.bad("sheet", "The controller of model %s has the settings sheet %s, not %s.", who.model.Code, p.byID[who.model.Sheet], sh.value.Code)
		return
	}
	y := p.layer(layerKey{level, who.id, sh.value.ID}, who, sh)
	ref := sheet.Ref{Key: key, Vat: vat}
	if first, twice := y.spoken[ref]; twice {
		l.bad("key", "The standard of %s is there twice: first in %s.", ref, first.in(l.table.File))
		return
	}
	y.spoken[ref] = l.place()
	p.takeValue(l, y, ref, who, sh)
}

// owner gives the model, customer, site or fryer whose standard the row is about, or notes why there is none.
func (p *planner) owner(l *line, level standard.Level) *owner {
	if l.text("of") == "" {
		l.bad("of", "Say whose standard it is: the code or the tag.")
	}
	switch level {
	case standard.OfModel:
		if t := p.models.refer(l, "of"); t != nil {
			return &owner{t.value.ID, t.known, uuid.Nil, &t.value}
		}
	case standard.OfCustomer:
		if t := p.customers.refer(l, "of"); t != nil {
			return &owner{t.value.ID, t.known, uuid.Nil, nil}
		}
	case standard.OfSite:
		if t := p.sites.refer(l, "of"); t != nil {
			return &owner{t.value.ID, t.known, t.value.ID, nil}
		}
	case standard.OfFryer:
		if t := p.fryers.refer(l, "of"); t != nil {
			o := &owner{t.value.ID, t.known, t.value.Site, nil}
			if m := p.models.get(p.byID[t.value.Model]); m != nil {
				o.model = &m.value
			}
			return o
		}
	default:
		l.bad("level", "The level is model, customer, site or fryer.")
	}
	return nil
}

func (l *line) vat() int {
	switch fold(l.text("vat")) {
	case "", "0":
		return 0
	case "1", "left":
		return 1
	case "2", "right":
		return 2
	}
	l.bad("vat", "The vat is 1 or left, 2 or right, or empty for all.")
	return 0
}

// layer gives the layer of a key, asking what it holds already once.
func (p *planner) layer(key layerKey, who *owner, sh *thing[sheet.Sheet]) *layer {
	if y, ok := p.layers.byKey[key]; ok {
		return y
	}
	y := &layer{layerKey: key, site: who.site, spoken: map[sheet.Ref]place{}}
	if p.known.Layer != nil && who.known && sh.known {
		item := p.known.Layer(key.level, key.of, key.sheet)
		y.holds, y.version = item.Value, item.Version
	}
	p.layers.byKey[key] = y
	p.layers.list = append(p.layers.list, y)
	return y
}

// takeValue sets or clears the value of a ref in a layer.
func (p *planner) takeValue(l *line, y *layer, ref sheet.Ref, who *owner, sh *thing[sheet.Sheet]) {
	before := y.holds[ref]
	set := p.setting(sh, ref.Key)
	if l.text("value") == "" && !l.wrong() {
		l.clearValue(y, ref, before, set, sh)
		return
	}
	if set == nil {
		l.bad("key", "%s", noSetting(l, ref.Key, sh))
		return
	}
	l.out.What = strings.TrimSuffix(l.out.What, ref.Key) + set.Label + vatText(ref.Vat)
	l.fits(set, ref, who)
	value := l.value("value", set)
	if utf8.RuneCountInString(l.text("why")) > legible.Note {
		l.bad("why", "At most %d characters.", legible.Note)
	}
	if err := set.Check(value); err != nil {
		l.bad("value", "%s", fault.MessageOf(err))
	}
	changes := []string{changeText("value", set.Show(before), set.Show(value))}
	if before == value {
		changes = nil
	}
	if l.settle(!before.Known(), changes) {
		y.set = append(y.set, standard.Value{Ref: ref, Value: value})
		y.because(l)
	}
}

// clearValue takes a value away. A setting that has left its sheet can still be cleared.
func (l *line) clearValue(y *layer, ref sheet.Ref, before sheet.Value, set *sheet.Setting, sh *thing[sheet.Sheet]) {
	switch {
	case before.Known():
		l.out.Outcome = Cleared
		l.change(changeText("value", string(before), ""))
		y.clear = append(y.clear, ref)
		y.because(l)
	case set == nil:
		l.bad("key", "%s", noSetting(l, ref.Key, sh))
	default:
		l.out.Outcome = Same
	}
}

func noSetting(l *line, key string, sh *thing[sheet.Sheet]) string {
	text := "The settings sheet " + sh.value.Code + " has no setting " + clip(key) + "."
	if sh.wrong != (place{}) {
		text += " What these files change of the sheet is not taken: " + sh.wrong.in(l.table.File) + " is wrong."
	}
	return text
}

// fits notes where the controller or the appliance has no such place.
func (l *line) fits(set *sheet.Setting, ref sheet.Ref, who *owner) {
	if ref.Vat != 0 && set.Scope != sheet.PerVat {
		l.bad("vat", "%s is set once for the whole controller. Leave the vat empty.", set.Label)
	}
	if who.model == nil {
		return
	}
	a := who.model.Appliance()
	if ref.Vat > a.Vats() {
		l.bad("vat", "The model %s has one vat only.", who.model.Code)
	}
	if !set.Applies(a) {
		l.bad("key", "The model %s, %s with a %s pot, has no %s.", who.model.Code, a.Energy, a.Pot, set.Label)
	}
}

func vatText(vat int) string {
	switch vat {
	case 1:
		return ", vat 1"
	case 2:
		return ", vat 2"
	}
	return ""
}

// setting gives a setting of a sheet as it will stand; nil for none.
func (p *planner) setting(sh *thing[sheet.Sheet], key string) *sheet.Setting {
	byKey, ok := p.settings[sh.value.ID]
	if !ok {
		byKey = indexBy(sh.value.Settings, func(s *sheet.Setting) string { return s.Key })
		p.settings[sh.value.ID] = byKey
	}
	return byKey[key]
}

func (y *layer) because(l *line) {
	why := l.text("why")
	if why == "" || slices.Contains(y.whys, why) || len(y.whys) == whysLimit {
		return
	}
	if all := append(slices.Clone(y.whys), why); utf8.RuneCountInString(strings.Join(all, whysMark)) <= legible.Note {
		y.whys = all
	}
}

// whysLimit is how many reasons of its rows a change of a layer names.
const (
	whysLimit = 20
	whysMark  = "; "
)

// saveLayer writes what the rows change of a layer, as one entry.
func (p *planner) saveLayer(y *layer) {
	if len(y.set)+len(y.clear) == 0 {
		return
	}
	why := strings.Join(y.whys, whysMark)
	if why == "" {
		why = "imported"
	}
	p.draft(journal.Draft{
		Site: y.site, Subject: standard.LayerID(y.level, y.of, y.layerKey.sheet), Base: y.version,
		Body: standard.Changed{Level: y.level, Of: y.of, Sheet: y.layerKey.sheet, Set: y.set, Clear: y.clear, Why: why},
	})
}
