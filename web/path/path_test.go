package path_test

import (
	"testing"

	"frywright/domain/sheet"
	"frywright/web/path"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
)

func TestWhatIsTypedCannotLeaveItsSegment(t *testing.T) {
	id := uuid.MustParse("01890a5d-ac96-774b-bcce-b302099a8057") // an arbitrary version 7 id
	for _, c := range []struct{ got, want string }{
		{path.Tag("FW 1/2?x#y"), "/tag/FW%201%2F2%3Fx%23y"},
		{path.Welcome("a/b"), "/welcome/a%2Fb"},
		{path.Setup("a b"), "/setup/a%20b"},
		{path.FryerExpectedOne(id, sheet.Ref{Key: "cook-time", Vat: 2}), "/fryers/" + id.String() + "/expected/cook-time@2"},
		{path.Standard("site", id, id), "/standards/site/" + id.String() + "/" + id.String()},
		{path.SheetSetting(id, "a/b"), "/sheets/" + id.String() + "/settings/a%2Fb"},
		{path.ReadingAt(id, 12), "/readings/" + id.String() + "/at/12"},
		{path.FryerNew(uuid.Nil), "/fryers/new"},
		{path.FryerNew(id), "/fryers/new?site=" + id.String()},
	} {
		assert.Equal(t, c.want, c.got)
	}
}
