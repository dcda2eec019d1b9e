package state_test

import (
	"testing"
	"time"

	"frywright/domain/cause"
	"frywright/domain/sheet"
	"frywright/domain/state"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
)

func TestHowAFryerStandsInWords(t *testing.T) {
	at := time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC)
	off := func(class sheet.Class) (by [sheet.Safety + 1]int) {
		by[class] = 1
		return by
	}
	for name, c := range map[string]struct {
		standing        state.Standing
		retired         time.Time
		sentence, plain string // how they begin
		step            state.StepKind
		tone            state.Tone
	}{
		"right":          {state.Standing{Places: 5, Right: 5, LastRead: at}, time.Time{}, "Every setting is as it should be.", "As it should be.", state.StepRoutine, state.Calm},
		"accepted":       {state.Standing{Places: 5, Right: 4, Accepted: 1, LastRead: at}, time.Time{}, "As it should be, with 1 accepted difference.", "As it should be.", state.StepRoutine, state.Calm},
		"never read":     {state.Standing{Places: 5, Unknown: 5}, time.Time{}, "Never read", "Not checked yet.", state.StepRead, state.Ask},
		"partly unknown": {state.Standing{Places: 5, Right: 1, Unknown: 4, LastRead: at}, time.Time{}, "What was read is right; 4 settings were not read.", "What was checked is as it should be; not all of it was.", state.StepRead, state.Ask},
		"stale":          {state.Standing{Places: 5, Unknown: 5, LastRead: at, StaleSince: at, StaleWhat: cause.PowerCut}, time.Time{}, "Not read since a power cut.", "To be checked after a power cut.", state.StepRead, state.Ask},
		"off":            {state.Standing{Places: 5, Right: 4, ByClass: off(sheet.Food), PutBack: 1, LastRead: at}, time.Time{}, "1 setting is off", "Its settings are not as they should be.", state.StepPutBack, state.Trouble},
		"off, small":     {state.Standing{Places: 5, Right: 4, ByClass: off(sheet.Minor), PutBack: 1, LastRead: at}, time.Time{}, "1 setting is off", "Small settings are off.", state.StepPutBack, state.Mind},
		"put back":       {state.Standing{Places: 5, Right: 4, ByClass: off(sheet.Food), PutBack: 1, Ticked: 1, LastRead: at}, time.Time{}, "The one setting is put back.", "Its settings", state.StepAsLeft, state.Trouble},
		"read-only off":  {state.Standing{Places: 5, Right: 4, ByClass: off(sheet.Minor), LastRead: at}, time.Time{}, "1 setting is off", "Small settings are off.", state.StepRead, state.Mind},
		"a rule":         {state.Standing{Places: 5, Right: 5, ByClass: off(sheet.Food), Broken: 1, LastRead: at}, time.Time{}, "1 rule is broken", "Its settings", state.StepRead, state.Trouble},
		"being read":     {state.Standing{Places: 5, Unknown: 5, OpenID: uuid.Max}, time.Time{}, "Never read", "Not checked yet.", state.StepGoOn, state.Ask},
		"retired":        {state.Standing{Places: 5, ByClass: off(sheet.Safety), LastRead: at}, at, "Retired.", "No longer in use.", state.StepNone, state.Calm},
	} {
		t.Run(name, func(t *testing.T) {
			f := state.Fryer{Standing: c.standing, Retired: c.retired}
			assert.Contains(t, f.Sentence(), c.sentence)
			assert.Contains(t, f.PlainSentence(), c.plain)
			assert.Equal(t, c.step, f.Next().Kind)
			assert.Equal(t, c.tone, f.Tone())
		})
	}
}
