// Package path makes every address of the pages, so that a changed address is changed in one place. It must not know of
// handlers, of the store or of what stands on the pages.
package path

import (
	"net/url"
	"strconv"

	"frywright/domain/sheet"

	"github.com/google/uuid"
)

// Home is where a person starts; it sends each role to its own first page.
func Home() string { return "/" }

// Desk lists what needs hands, worst first.
func Desk() string { return "/desk" }

// Lately lists what came in lately.
func Lately() string { return "/lately" }

// SetAside lists the entries that were kept but not applied.
func SetAside() string { return "/set-aside" }

// SetAsideOne settles one entry that was set aside.
func SetAsideOne(id uuid.UUID) string { return SetAside() + "/" + id.String() }

// Import takes files in.
func Import() string { return "/import" }

// Fryers finds a fryer.
func Fryers() string { return "/fryers" }

// Fryer is one fryer's page.
func Fryer(id uuid.UUID) string { return "/fryers/" + id.String() }

// FryerNew begins a fryer, at a site where site is not Nil.
func FryerNew(site uuid.UUID) string {
	if site == uuid.Nil {
		return "/fryers/new"
	}
	return "/fryers/new?site=" + site.String()
}

// FryerEdit edits a fryer's own facts.
func FryerEdit(id uuid.UUID) string { return Fryer(id) + "/edit" }

// FryerMove moves a fryer to another site.
func FryerMove(id uuid.UUID) string { return Fryer(id) + "/move" }

// FryerRetire takes a fryer out of the lists.
func FryerRetire(id uuid.UUID) string { return Fryer(id) + "/retire" }

// FryerReturn brings a retired fryer back.
func FryerReturn(id uuid.UUID) string { return Fryer(id) + "/return" }

// FryerExpected lists what every setting of a fryer should be, and why.
func FryerExpected(id uuid.UUID) string { return Fryer(id) + "/expected" }

// FryerExpectedOne explains one expected value of a fryer.
func FryerExpectedOne(id uuid.UUID, ref sheet.Ref) string {
	return FryerExpected(id) + "/" + url.PathEscape(ref.String())
}

// FryerHistory lists what was done to a fryer.
func FryerHistory(id uuid.UUID) string { return Fryer(id) + "/history" }

// FryerPutBack is the list of settings to put back.
func FryerPutBack(id uuid.UUID) string { return Fryer(id) + "/put-back" }

// FryerTick ticks a line of the put-back list off, or on again.
func FryerTick(id uuid.UUID) string { return FryerPutBack(id) + "/tick" }

// FryerEvents takes in that something happened to a fryer's controller.
func FryerEvents(id uuid.UUID) string { return Fryer(id) + "/events" }

// FryerNotes takes in a note at a fryer.
func FryerNotes(id uuid.UUID) string { return Fryer(id) + "/notes" }

// FryerAcceptances takes in that a difference is accepted.
func FryerAcceptances(id uuid.UUID) string { return Fryer(id) + "/acceptances" }

// FryerAcceptancesEnd takes in that an accepted difference ends.
func FryerAcceptancesEnd(id uuid.UUID) string { return FryerAcceptances(id) + "/end" }

// Tag finds the fryer that bears an asset tag.
func Tag(tag string) string { return "/tag/" + url.PathEscape(tag) }

// Sites lists the restaurants.
func Sites() string { return "/sites" }

// Site is one restaurant's page.
func Site(id uuid.UUID) string { return "/sites/" + id.String() }

// SiteNew begins a restaurant.
func SiteNew() string { return "/sites/new" }

// SiteRules switches a rule of the outside world on or off for a restaurant.
func SiteRules(id uuid.UUID) string { return Site(id) + "/rules" }

// SiteEdit edits a restaurant.
func SiteEdit(id uuid.UUID) string { return Site(id) + "/edit" }

// Reading is a reading under way: its list of settings.
func Reading(id uuid.UUID) string { return "/readings/" + id.String() }

// ReadingBegin begins a reading of a fryer.
func ReadingBegin(fryer uuid.UUID) string { return Fryer(fryer) + "/readings" }

// ReadingAt is one step of a reading; pos counts from 1 in the controller's order.
func ReadingAt(id uuid.UUID, pos int) string { return Reading(id) + "/at/" + strconv.Itoa(pos) }

// ReadingNext leads to the setting that a reading asks for next.
func ReadingNext(id uuid.UUID) string { return Reading(id) + "/next" }

// ReadingWeigh says how a typed value of a setting would stand; what is typed comes behind it.
func ReadingWeigh(id uuid.UUID, ref sheet.Ref) string {
	return Reading(id) + "/weigh?ref=" + url.QueryEscape(ref.String())
}

// ReadingFinish closes a reading.
func ReadingFinish(id uuid.UUID) string { return Reading(id) + "/finish" }

// ReadingDrop gives a reading up.
func ReadingDrop(id uuid.UUID) string { return Reading(id) + "/drop" }

// ReadingResult is what a reading shows.
func ReadingResult(id uuid.UUID) string { return Reading(id) + "/result" }

// Standards lists the house standards.
func Standards() string { return "/standards" }

// StandardNew chooses whose standard to open or to begin.
func StandardNew() string { return "/standards/new" }

// Standard is the layer of one level for one owner and one settings sheet.
func Standard(level string, of, sheetID uuid.UUID) string {
	return "/standards/" + url.PathEscape(level) + "/" + of.String() + "/" + sheetID.String()
}

// StandardHistory lists every version of a layer.
func StandardHistory(level string, of, sheetID uuid.UUID) string {
	return Standard(level, of, sheetID) + "/history"
}

// Sheets lists the settings sheets.
func Sheets() string { return "/sheets" }

// Sheet is one settings sheet.
func Sheet(id uuid.UUID) string { return "/sheets/" + id.String() }

// SheetNew begins a settings sheet.
func SheetNew() string { return "/sheets/new" }

// SheetSetting is one setting of a sheet.
func SheetSetting(id uuid.UUID, key string) string {
	return Sheet(id) + "/settings/" + url.PathEscape(key)
}

// SheetInterlock is one interlock of a sheet.
func SheetInterlock(id uuid.UUID, key string) string {
	return Sheet(id) + "/interlocks/" + url.PathEscape(key)
}

// SheetHistory is every version of a sheet.
func SheetHistory(id uuid.UUID) string { return Sheet(id) + "/history" }

// SheetFile is a sheet as a file of settings or of interlocks.
func SheetFile(id uuid.UUID, kind string) string { return Sheet(id) + "/files/" + kind + ".csv" }

// ImportTemplate is an empty file of a kind, with its columns.
func ImportTemplate(kind string) string { return Import() + "/templates/" + kind + ".csv" }

// Models lists the fryer models.
func Models() string { return "/models" }

// Model is one fryer model.
func Model(id uuid.UUID) string { return "/models/" + id.String() }

// ModelNew begins a fryer model.
func ModelNew() string { return "/models/new" }

// Customers lists the restaurant companies.
func Customers() string { return "/customers" }

// Customer is one restaurant company.
func Customer(id uuid.UUID) string { return "/customers/" + id.String() }

// CustomerNew begins a restaurant company.
func CustomerNew() string { return "/customers/new" }

// People lists who may sign in.
func People() string { return "/people" }

// Person is one of them.
func Person(id uuid.UUID) string { return "/people/" + id.String() }

// PersonNew invites somebody.
func PersonNew() string { return "/people/new" }

// PersonEdit edits a person.
func PersonEdit(id uuid.UUID) string { return Person(id) + "/edit" }

// PersonLink makes a link with which a person chooses a password.
func PersonLink(id uuid.UUID) string { return Person(id) + "/link" }

// PersonGone marks a person as gone, or brings them back.
func PersonGone(id uuid.UUID) string { return Person(id) + "/gone" }

// PersonSessions ends every session of a person.
func PersonSessions(id uuid.UUID) string { return Person(id) + "/sessions" }

// PersonFactor takes the second step of somebody who lost it.
func PersonFactor(id uuid.UUID) string { return Person(id) + "/second-step" }

// PeopleFactor says whether administrators need the second step.
func PeopleFactor() string { return People() + "/second-step" }

// SignIn is the sign-in form.
func SignIn() string { return "/signin" }

// SignInCode asks for the second step of a sign-in.
func SignInCode() string { return SignIn() + "/code" }

// SignInFactor sets the second step up on the way in, where it is needed.
func SignInFactor() string { return SignIn() + "/second-step" }

// SignOut ends the session on this device.
func SignOut() string { return "/signout" }

// SignOutEverywhere ends every session of the person.
func SignOutEverywhere() string { return "/signout/everywhere" }

// Account is a person's own page.
func Account() string { return "/account" }

// AccountPassword changes a person's own password.
func AccountPassword() string { return Account() + "/password" }

// AccountFactor is a person's own second step.
func AccountFactor() string { return Account() + "/second-step" }

// FactorConfirm switches a second step on; at is the page on which it is set up.
func FactorConfirm(at string) string { return at + "/confirm" }

// FactorCodes makes other recovery codes.
func FactorCodes() string { return AccountFactor() + "/codes" }

// FactorOff switches a person's own second step off.
func FactorOff() string { return AccountFactor() + "/off" }

// AccountSessions lists where a person is signed in.
func AccountSessions() string { return Account() + "/sessions" }

// SessionEnd ends one of a person's own sessions.
func SessionEnd(id uuid.UUID) string { return AccountSessions() + "/" + id.String() + "/end" }

// SessionsEnd ends all of a person's own sessions but this one.
func SessionsEnd() string { return AccountSessions() + "/others/end" }

// Welcome is where an invited person chooses a password.
func Welcome(token string) string { return "/welcome/" + url.PathEscape(token) }

// Setup is where the first person of an instance is made.
func Setup(token string) string { return "/setup/" + url.PathEscape(token) }
