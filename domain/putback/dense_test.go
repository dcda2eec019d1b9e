package putback_test

import (
	"fmt"
	"testing"
	"time"

	"frywright/domain/drift"
	"frywright/domain/putback"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/stretchr/testify/assert"
)

// TestASheetWhereEverythingFollowsEverythingIsOrderedAtOnce has more ways through After than could ever be gone one by one.
func TestASheetWhereEverythingFollowsEverythingIsOrderedAtOnce(t *testing.T) {
	const settings = 120
	sh := sheet.Sheet{Code: "dense", Name: "Dense"}
	read := map[sheet.Ref]sheet.Value{}
	for i := range settings {
		// In the controller's order the last comes first, so that After has to turn it round.
		s := sheet.Setting{Key: fmt.Sprintf("s%03d", settings-i), Label: "Setting", Group: "All", Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Class: sheet.Minor}
		for j := range settings - i - 1 {
			s.After = append(s.After, fmt.Sprintf("s%03d", j+1))
		}
		sh.Settings = append(sh.Settings, s)
		read[sheet.Ref{Key: s.Key}] = "on"
	}
	x := standard.Lay(&sh, sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}, nil)
	list := putback.Make(x, drift.Compare(x, read, nil, nil, time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)))
	for n, line := range list.Lines() {
		assert.Equal(t, fmt.Sprintf("s%03d", n+1), line.Finding.Ref.Key)
		assert.Len(t, line.First, n)
	}
	assert.Equal(t, settings, list.Total)
}
