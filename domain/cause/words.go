package cause

import (
	"fmt"
	"strings"
)

// Words gives an event as it stands in a sentence.
func Words(k EventKind) string {
	switch k {
	case PowerCut:
		return "a power cut"
	case ControllerSwap:
		return "a controller swap"
	case FactoryReset:
		return "a factory reset"
	case ProgramChange:
		return "a program change"
	default:
		return "an event of a kind that is not known"
	}
}

// Headline gives what happened as the end of a sentence about a fryer; empty where nothing differs.
func Headline(k Kind) string {
	switch k {
	case Isolated:
		return "changed by hand, not reset"
	case FullReset:
		return "the controller was reset"
	case PartlyPutBack:
		return "reset and only partly put back"
	case OtherStandard:
		return "programmed to another standard"
	case WrongSheet:
		return "this may be the wrong settings sheet"
	case CannotTell:
		return "why cannot be told"
	default:
		return ""
	}
}

// Label names the explanation in a table.
func (o Odds) Label() string {
	switch o.Kind {
	case Isolated:
		return "Changed by hand, or misread"
	case FullReset:
		return "A full reset"
	case PartlyPutBack:
		return "A reset, partly put back"
	case OtherStandard:
		return "Programmed to the standard of " + o.Name
	case WrongSheet:
		return "The wrong settings sheet or program"
	default:
		return string(o.Kind)
	}
}

// Against gives the probability as odds, rounded towards even: "20 to 1", "1 to 4", "about even".
func (o Odds) Against() string {
	const most = 1000
	p, format := o.Probability, "%d to %d"
	if p < 0.5 {
		p, format = 1-p, "%[2]d to %[1]d"
	}
	switch ratio := p/(1-p) + 1e-9; {
	case ratio >= most && o.Probability > 0.5:
		return "more than 1000 to 1"
	case ratio >= most:
		return "less than 1 to 1000"
	case ratio >= 2:
		return fmt.Sprintf(format, int(ratio), 1)
	case ratio >= 1.5:
		return fmt.Sprintf(format, 3, 2)
	default:
		return "about even"
	}
}

// reasons says the counts in plain words, the weightiest for a reset first. other names the best-fitting other standard.
func (r *Result) reasons(other string, events []EventKind) []string {
	c := r.Counts
	var lines []string
	add := func(n int, format string, args ...any) {
		if n > 0 {
			lines = append(lines, fmt.Sprintf(format, args...))
		}
	}
	add(c.Telling, "%d of the %s factory %s factory.", c.AtFactory, many(c.Telling, "setting that differs from", "settings that differ from"), reads(c.AtFactory))
	add(c.AtExpected, "%d of them %s as expected.", c.AtExpected, reads(c.AtExpected))
	add(c.Neither, "%d of them %s neither factory nor as expected.", c.Neither, reads(c.Neither))
	add(c.SteadyOff, "%d of the %s that a reset would not show on %s off.", c.SteadyOff, many(c.Steady, "setting", "settings"), are(c.SteadyOff))
	add(c.OffSheet, "%s not allowed by the settings sheet.", many(c.OffSheet, "value read is", "values read are"))
	add(c.FixedOff, "%s, such as the program checksum, %s not as expected.", many(c.FixedOff, "read-only value", "read-only values"), are(c.FixedOff))
	add(c.AtOther, "%d of the %s in which the standard of %s differs %s as it says.", c.AtOther, many(c.Apart, "setting", "settings"), other, reads(c.AtOther))
	add(c.Unread, "%s not read and %s neither way.", many(c.Unread, "setting that would tell was", "settings that would tell were"), verb(c.Unread, "counts", "count"))
	if c.Telling == 0 && c.Unread == 0 {
		lines = append(lines, "No setting is expected to differ from factory, so a reset would leave no trace.")
	}
	for _, e := range events {
		lines = append(lines, "Noted before this reading: "+Words(e)+".")
	}
	return lines
}

func (r *Result) sentence() string {
	switch r.Verdict {
	case FullReset:
		return upper(r.Counts.atFactory()) + r.so("this is a reset, not tampering", "this is most likely a reset")
	case PartlyPutBack:
		return upper(r.Counts.atFactory()) + fmt.Sprintf(" and %s %s as expected", spell(r.Counts.AtExpected), are(r.Counts.AtExpected)) +
			r.so("this is a reset that was only partly put back", "this is most likely a reset that was partly put back")
	case Isolated:
		return r.isolatedSentence()
	case OtherStandard:
		what := portion(r.Counts.AtOther, r.Counts.Apart, "settings") + " in which the standard of " + r.Odds[0].Name + " differs read as it says"
		return upper(what) + r.so("the controller is programmed to that standard", "the controller is most likely programmed to that standard")
	case WrongSheet:
		return r.wrongSentence()
	default:
		return r.unsureSentence()
	}
}

// so ends a sentence with what follows, by how sure it is.
func (r *Result) so(sure, probable string) string {
	if r.Sure() {
		return ": " + sure + "."
	}
	return ": " + probable + "."
}

// house names so many of the settings that tell.
func (c *Counts) house(n int) string {
	if c.Unread > 0 {
		return portion(n, c.Telling, "house settings") + " that were read"
	}
	return portion(n, c.Telling, "house settings")
}

func (c *Counts) atFactory() string {
	return fmt.Sprintf("%s %s back at factory values", c.house(c.AtFactory), are(c.AtFactory))
}

func (r *Result) isolatedSentence() string {
	c := &r.Counts
	what := fmt.Sprintf("%s off, but %s %s as expected", spelled(r.Drifts, "setting is", "settings are"), c.house(c.AtExpected), are(c.AtExpected))
	return upper(what) + r.so("this is a change by hand or a misreading, not a reset", "this is most likely a change by hand or a misreading")
}

func (r *Result) wrongSentence() string {
	c := r.Counts
	what := portion(c.Neither+c.SteadyOff, c.Read-c.Fixed, "readings") + " fit neither the standard nor the factory values"
	if c.Neither+c.SteadyOff == 0 {
		what = spelled(c.FixedOff, "read-only value is", "read-only values are") + " not as expected"
	}
	return upper(what) + r.so("this is the wrong settings sheet or program", "this is most likely the wrong settings sheet or program") +
		" Check the controller type and its program before you put anything back."
}

func (r *Result) unsureSentence() string {
	c := r.Counts
	off := upper(spelled(r.Drifts, "setting is off", "settings are off"))
	switch {
	case c.Telling == 0 && c.Unread == 0:
		return off + ". No setting is expected to differ from factory, so nobody can tell whether the controller was reset."
	case c.Telling == 0:
		return off + ". No house setting that a reset would change was read: what happened cannot be told."
	case c.Telling < fewest:
		return off + fmt.Sprintf(". Only %s read that a reset would change: too few to tell what happened.", spelled(c.Telling, "house setting was", "house settings were"))
	default:
		return off + fmt.Sprintf(". What was read fits both %s and %s: what happened cannot be told yet.", r.Odds[0].phrase(), r.Odds[1].phrase())
	}
}

// phrase names the explanation inside a sentence.
func (o Odds) phrase() string {
	switch o.Kind {
	case Isolated:
		return "a change by hand or a misreading"
	case FullReset:
		return "a full reset"
	case PartlyPutBack:
		return "a reset partly put back"
	case OtherStandard:
		return "the standard of " + o.Name
	default:
		return "a wrong settings sheet or program"
	}
}

var small = [...]string{"none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

// spell writes a small number as a word.
func spell(n int) string {
	if n >= 0 && n < len(small) {
		return small[n]
	}
	return fmt.Sprint(n)
}

// portion says how many of several: "all nine settings", "six of the eleven settings".
func portion(n, of int, noun string) string {
	if n == of {
		return fmt.Sprintf("all %s %s", spell(of), noun)
	}
	return fmt.Sprintf("%s of the %s %s", spell(n), spell(of), noun)
}

func spelled(n int, one, more string) string { return spell(n) + " " + verb(n, one, more) }

func many(n int, one, more string) string { return fmt.Sprintf("%d %s", n, verb(n, one, more)) }

func reads(n int) string { return verb(n, "reads", "read") }

func are(n int) string { return verb(n, "is", "are") }

func verb(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
