package access_test

import (
	"context"
	"strings"
	"testing"

	"frywright/domain/access"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	own     = uuid.MustParse("0190f5a0-0000-7000-8000-000000000001")
	foreign = uuid.MustParse("0190f5a0-0000-7000-8000-000000000002")
)

// whole is the whole of the permissions, written out: for each action and role what Can says at an own site, at a foreign
// one and at none, in this order. A: allowed, D: denied, H: hidden.
const whole = `
                  administrator dispatcher technician manager nobody
see-site          AAA           AAA        AHH        AHH     DDD
see-settings      AAA           AAA        AHH        DDD     DDD
take-reading      AAA           AAA        AHH        DDD     DDD
write-note        AAA           AAA        AHH        DDD     DDD
accept-drift      AAA           AAA        DDD        DDD     DDD
set-site-standard AAA           AAA        DDD        DDD     DDD
edit-fleet        AAA           AAA        DDD        DDD     DDD
set-standard      AAA           AAA        DDD        DDD     DDD
edit-sheet        AAA           AAA        DDD        DDD     DDD
see-desk          AAA           AAA        DDD        DDD     DDD
import            AAA           AAA        DDD        DDD     DDD
edit-people       AAA           DDD        DDD        DDD     DDD
no-such-action    DDD           DDD        DDD        DDD     DDD
`

var letters = map[access.Verdict]string{access.Allowed: "A", access.Denied: "D", access.Hidden: "H"}

// roles gives the role of each column.
func roles(head string) []access.Role {
	var list []access.Role
	for _, word := range strings.Fields(head) {
		if word == "nobody" {
			word = ""
		}
		list = append(list, access.Role(word))
	}
	return list
}

func actor(role access.Role) access.Actor {
	return access.Actor{Person: uuid.MustParse("0190f5a0-0000-7000-8000-000000000009"), Role: role, Sites: map[uuid.UUID]bool{own: true, foreign: false}}
}

func TestEveryPermission(t *testing.T) {
	rows := strings.Split(strings.Trim(whole, "\n"), "\n")
	columns := roles(rows[0])
	var actions []access.Action
	for _, row := range rows[1:] {
		cells := strings.Fields(row)
		action := access.Action(cells[0])
		actions = append(actions, action)
		require.Len(t, cells, len(columns)+1, row)
		for i, role := range columns {
			got := ""
			for _, site := range []uuid.UUID{own, foreign, uuid.Nil} {
				got += letters[access.Can(actor(role), action, site)]
			}
			assert.Equal(t, cells[i+1], got, "%s, %q", action, role)
			assert.Equal(t, got != "DDD", access.May(actor(role), action), "may %s, %q", action, role)
		}
	}
	assert.Equal(t, append(access.Actions(), "no-such-action"), actions, "every action has its row")
	assert.ElementsMatch(t, append(access.Roles(), ""), columns, "every role has its column")
}

func TestTheProgramItselfMayDoEverything(t *testing.T) {
	system := access.Actor{System: true}
	for _, action := range access.Actions() {
		for _, site := range []uuid.UUID{own, uuid.Nil} {
			assert.Equal(t, access.Allowed, access.Can(system, action, site))
		}
		assert.True(t, access.May(system, action))
	}
	assert.True(t, system.SeesAllSites())
	assert.True(t, system.SignedIn())
}

func TestWhoSeesAllSites(t *testing.T) {
	sees := map[access.Role]bool{access.Administrator: true, access.Dispatcher: true, access.Technician: false, access.Manager: false, "": false, "king": false}
	for role, all := range sees {
		assert.Equal(t, all, actor(role).SeesAllSites(), "%q", role)
	}
	assert.False(t, access.Actor{}.SignedIn())
	assert.True(t, actor(access.Manager).SignedIn())
}

func TestTheZeroActorMayDoNothing(t *testing.T) {
	for _, action := range access.Actions() {
		assert.Equal(t, access.Denied, access.Can(access.Actor{}, action, own))
		assert.False(t, access.May(access.Actor{}, action))
	}
}

func TestTheActorTravelsInTheContext(t *testing.T) {
	assert.Equal(t, access.Actor{}, access.FromContext(context.Background()))
	ctx := access.NewContext(context.Background(), actor(access.Technician))
	assert.Equal(t, actor(access.Technician), access.FromContext(ctx))
}
