package person

import (
	"time"

	"github.com/google/uuid"
)

// SignIn is a session of a person: one browser in which they are signed in.
type SignIn struct {
	ID     uuid.UUID
	Person uuid.UUID
	Began  time.Time
	Seen   time.Time // coarse: not every use is noted
	Agent  string    // the device, in plain words
	Strong bool      // a second factor was given
}

// Factor is the second factor of a person; the zero Factor where they have none.
type Factor struct {
	Secret    string // sealed
	Begun     time.Time
	Confirmed time.Time // zero while it is being set up
	LastStep  int64     // time step of the last code that was taken
	CodesLeft int       // recovery codes that were not used
}

// On says whether the sign-in asks for the factor.
func (f Factor) On() bool { return !f.Confirmed.IsZero() }

// AccountEvent is something that happened to a person's sign-in.
type AccountEvent string

// What can happen.
const (
	PasswordSet    AccountEvent = "password-set"
	LinkMade       AccountEvent = "link-made" // with which a password is set
	FactorOn       AccountEvent = "factor-on"
	FactorOff      AccountEvent = "factor-off"
	FactorReset    AccountEvent = "factor-reset" // by an administrator, with a reason
	CodesRenewed   AccountEvent = "codes-renewed"
	CodeUsed       AccountEvent = "code-used" // a recovery code
	SignInsEnded   AccountEvent = "sign-ins-ended"
	FactorRequired AccountEvent = "factor-required" // of administrators
	FactorOptional AccountEvent = "factor-optional"
)

// AccountNote is one line of what happened to a person's sign-in.
type AccountNote struct {
	At     time.Time
	What   AccountEvent
	By     string // the name; empty for the program itself
	Reason string
}
