package ui

// notices are the texts of the keys that form.See puts into an address. An unknown key shows nothing, so that an address
// cannot put words into the page's mouth.
var notices = map[string]string{
	"saved":              "Saved.",
	"added":              "Added.",
	"moved":              "Moved. Its history went with it.",
	"retired":            "Retired. Its history is kept.",
	"returned":           "Back in the lists.",
	"standard-saved":     "Saved. The new values are expected from now on.",
	"reading-begun":      "Reading begun.",
	"reading-finished":   "Reading finished and kept.",
	"reading-dropped":    "Reading given up. What was read is kept in the history.",
	"reading-open":       "A reading is open here already: go on with it, or give it up.",
	"reading-unfinished": "This reading is not finished yet.",
	"note-saved":         "Note saved.",
	"noted":              "Noted.",
	"ticked":             "Ticked off.",
	"unticked":           "No longer ticked off.",
	"accepted":           "The difference is accepted until its end date.",
	"ended":              "The difference is no longer accepted.",
	"imported":           "Imported.",
	"invited":            "Invited. Hand the link on: it works once.",
	"person-gone":        "Marked as gone: signed out everywhere, and can no longer sign in.",
	"person-back":        "Back again: they can sign in as before.",
	"signed-in":          "Signed in.",
	"signed-out":         "Signed out.",
	"signed-out-all":     "Signed out everywhere.",
	"password-set":       "Your password is set. Sign in with it.",
	"aside-applied":      "Applied. It counts from now on.",
	"aside-left-out":     "Left out for good. It stays in the journal.",
	"rule-on":            "The rule is switched on. Every fryer here is judged by it.",
	"rule-off":           "The rule is switched off.",
	"password-changed":   "The password is changed.",
}

func noticeText(key string) string { return notices[key] }
