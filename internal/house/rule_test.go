package house_test

import "slices"

// shared are the parts of web that every feature may use.
var shared = []string{"web/form", "web/path", "web/ui"}

// world are the parts of the standard library through which a package would reach a clock, chance, a file or another machine.
// The package time stays allowed for its types; a linter bans time.Now.
var world = []string{"os", "io/ioutil", "net", "net/http", "net/rpc", "net/smtp", "syscall", "database/sql", "crypto/rand", "math/rand", "plugin", "log", "unsafe", "C"}

// innocent lie below a part of world and reach nothing.
var innocent = []string{"net/mail", "net/url", "net/netip", "net/textproto"}

// risky are packages of the standard library with which data can come to be more than data.
var risky = []string{
	"archive", "crypto/des", "crypto/md5", "crypto/rc4", "crypto/sha1", "encoding/gob", "encoding/xml", "expvar", "html/template",
	"net/http/cgi", "net/http/pprof", "net/rpc", "net/smtp", "plugin", "text/template", "unsafe",
}

// testing tools.
var tools = []string{
	"testing", "net/http/httptest", "github.com/stretchr/testify", "pgregory.net/rapid",
	"github.com/chromedp/chromedp", "github.com/chromedp/cdproto",
}

var rules = []rule{
	{
		name: "the domain is pure",
		why: "the same rules run on the server, on the phone and in tests with the same result, so domain gets clock, chance and files " +
			"handed in and knows only the standard library's pure part, gonum and uuid",
		bans: func(s source, imp string) bool {
			if !within(s.dir(), "domain") || s.test() {
				return false
			}
			if standard(imp) {
				return within(imp, world...) && !within(imp, innocent...)
			}
			return !within(imp, module+"/domain", "gonum.org/v1/gonum", "github.com/google/uuid")
		},
		caught: []example{
			{"domain/drift/drift.go", "os"},
			{"domain/drift/drift.go", "net/http"},
			{"domain/drift/drift.go", "math/rand/v2"},
			{"domain/drift/drift.go", "database/sql/driver"},
			{"domain/drift/drift.go", "frywright/store"},
			{"domain/drift/drift.go", "github.com/go-chi/chi/v5"},
		},
		allowed: []example{
			{"domain/drift/drift.go", "time"},
			{"domain/drift/drift.go", "net/mail"},
			{"domain/drift/drift.go", "frywright/domain/sheet"},
			{"domain/drift/drift.go", "github.com/google/uuid"},
			{"domain/cause/cause.go", "gonum.org/v1/gonum/stat/distuv"},
			{"domain/intake/read_test.go", "os"},
		},
	},
	{
		name: "domain stands below everything",
		why:  "a rule that needs the store or a page to be tested is not a rule of the trade any more",
		bans: func(s source, imp string) bool {
			dir, ok := own(imp)
			return ok && within(s.dir(), "domain") && !within(dir, "domain")
		},
		caught: []example{
			{"domain/drift/drift.go", "frywright/web/ui"},
			{"domain/drift/drift_test.go", "frywright/store"},
			{"domain/drift/drift.go", "frywright/migrations"},
		},
		allowed: []example{{"domain/drift/drift_test.go", "frywright/domain/sheet"}},
	},
	{
		name: "web does not know the store",
		why: "a page declares the few methods that it needs, so that the phone can answer it from another database; " +
			"only tests bring the two together",
		bans: func(s source, imp string) bool {
			dir, ok := own(imp)
			return ok && within(s.dir(), "web") && within(dir, "store", "migrations") && !s.test()
		},
		caught: []example{
			{"web/desk/desk.go", "frywright/store"},
			{"web/server.go", "frywright/migrations"},
		},
		allowed: []example{
			{"web/desk/desk_test.go", "frywright/store"},
			{"web/desk/desk.go", "frywright/domain/state"},
			{"web/server.go", "frywright/static"},
		},
	},
	{
		name: "web opens no database",
		why:  "what is read and written goes through the store's one apply path, or a permission could be walked around",
		bans: func(s source, imp string) bool {
			return within(s.dir(), "web") && !s.test() && within(imp, "database/sql", "modernc.org/sqlite")
		},
		caught:  []example{{"web/desk/desk.go", "database/sql"}},
		allowed: []example{{"store/store.go", "database/sql"}},
	},
	{
		name: "features are strangers",
		why:  "a feature can be read, changed or taken out alone; what two of them need belongs to the shared parts of web or to domain",
		bans: func(s source, imp string) bool {
			dir, ok := own(imp)
			from, to := feature(s.dir()), feature(dir)
			return ok && from != "" && to != "" && from != to && !slices.Contains(shared, to)
		},
		caught: []example{
			{"web/desk/desk.go", "frywright/web/reading"},
			{"web/desk/desk_test.go", "frywright/web/reading"},
			{"web/desk/row/row.go", "frywright/web/reading/view"},
			{"web/ui/frame.go", "frywright/web/desk"},
		},
		allowed: []example{
			{"web/desk/desk.go", "frywright/web/path"},
			{"web/desk/desk.go", "frywright/web/desk/row"},
			{"web/routes.go", "frywright/web/desk"},
		},
	},
	{
		name: "features hang from the route table",
		why:  "web mounts the features, so a feature that imports web would turn the table of routes into a circle",
		bans: func(s source, imp string) bool {
			return imp == module+"/web" && feature(s.dir()) != "" && !s.test()
		},
		caught:  []example{{"web/desk/desk.go", "frywright/web"}, {"web/ui/frame.go", "frywright/web"}},
		allowed: []example{{"cmd/frywright/main.go", "frywright/web"}},
	},
	{
		name: "the store knows only what it keeps",
		why:  "the same store code runs below the phone's pages and below commands that have no page, so it must not know of either",
		bans: func(s source, imp string) bool {
			dir, ok := own(imp)
			return ok && within(s.dir(), "store") && !within(dir, "store", "domain", "migrations")
		},
		caught: []example{
			{"store/store.go", "frywright/web"},
			{"store/store_test.go", "frywright/web/ui"},
			{"store/store.go", "frywright/static"},
		},
		allowed: []example{
			{"store/store.go", "frywright/migrations"},
			{"store/store.go", "frywright/domain/journal"},
		},
	},
	{
		name:    "the store speaks no HTTP",
		why:     "status codes, cookies and forms are the business of web; the store answers with domain's faults",
		bans:    func(s source, imp string) bool { return within(s.dir(), "store") && within(imp, "net/http", "html") },
		caught:  []example{{"store/account.go", "net/http"}, {"store/account.go", "html/template"}},
		allowed: []example{{"web/server.go", "net/http"}},
	},
	{
		name: "migrations and static are leaves",
		why:  "they hold files to embed, and every command and test must be able to take them without taking the program along",
		bans: func(s source, imp string) bool {
			_, ok := own(imp)
			return ok && within(s.dir(), "migrations", "static")
		},
		caught:  []example{{"migrations/migrations.go", "frywright/store"}, {"static/static.go", "frywright/web"}},
		allowed: []example{{"static/static.go", "embed"}},
	},
	{
		name: "nothing imports a command",
		why:  "commands wire the parts together; a part that needs a command has its dependency upside down. Browser tests drive the real one",
		bans: func(s source, imp string) bool {
			dir, ok := own(imp)
			return ok && within(dir, "cmd") && !within(s.dir(), part(dir), "e2e")
		},
		caught: []example{
			{"store/store.go", "frywright/cmd/frywright/demo"},
			{"web/server_test.go", "frywright/cmd/frywright"},
			{"cmd/phone/main_js.go", "frywright/cmd/frywright/demo"},
		},
		allowed: []example{
			{"cmd/frywright/main.go", "frywright/cmd/frywright/demo"},
			{"e2e/walk_test.go", "frywright/cmd/frywright/demo"},
		},
	},
	{
		name: "settings are read in commands",
		why:  "flags and environment are read in one place, where --help can tell of them; everything below gets values",
		bans: func(s source, imp string) bool {
			return !within(s.dir(), "cmd") && !supports(s) && within(imp, "flag", "github.com/alecthomas/kong")
		},
		caught:  []example{{"store/store.go", "flag"}, {"web/server.go", "github.com/alecthomas/kong"}},
		allowed: []example{{"cmd/frywright/main.go", "github.com/alecthomas/kong"}, {"store/schema_test.go", "flag"}},
	},
	{
		name: "the browser is met in two places",
		why:  "syscall/js exists in a browser only; it stays with the phone's program and the store's driver, in files built for js alone",
		bans: func(s source, imp string) bool {
			return imp == "syscall/js" && (s.native || !within(s.dir(), "cmd/phone", "store"))
		},
		caught: []example{
			{"web/ui/frame_js.go", "syscall/js"},
			{"store/open.go", "syscall/js"},
		},
		allowed: []example{{"cmd/phone/main_js.go", "syscall/js"}, {"store/open_js.go", "syscall/js"}},
	},
	{
		name: "one file opens SQLite",
		why:  "this driver does not build for a browser; in one file of the store, left out of the phone, it can be exchanged",
		bans: func(s source, imp string) bool {
			return within(imp, "modernc.org/sqlite") && !s.test() && (s.phone || s.dir() != "store")
		},
		caught: []example{
			{"store/store.go", "modernc.org/sqlite"},
			{"cmd/frywright/main.go", "modernc.org/sqlite"},
			{"store/backup/backup_native.go", "modernc.org/sqlite"},
		},
		allowed: []example{{"store/open_native.go", "modernc.org/sqlite"}},
	},
	{
		name:    "no C",
		why:     "the server is one static binary and the phone's program one wasm file; both are built without a C compiler",
		bans:    func(_ source, imp string) bool { return imp == "C" },
		caught:  []example{{"store/open_native.go", "C"}, {"cmd/frywright/main.go", "C"}},
		allowed: []example{{"domain/intake/read.go", "encoding/csv"}},
	},
	{
		name: "no shelling out",
		why:  "a phone has no other program to call, and a server that starts one can be made to start another",
		bans: func(s source, imp string) bool {
			return imp == "os/exec" && !within(s.dir(), "cmd") && !supports(s)
		},
		caught:  []example{{"store/backup.go", "os/exec"}, {"web/server.go", "os/exec"}},
		allowed: []example{{"e2e/program.go", "os/exec"}, {"cmd/frywright/main_test.go", "os/exec"}},
	},
	{
		name: "what strangers send is data",
		why: "templates made at run time, formats that name types or other files, archives, mail, plug-ins, unchecked memory and ciphers that " +
			"are broken have no place in the program, and debugging pages show its inside",
		bans: func(s source, imp string) bool { return !supports(s) && within(imp, risky...) },
		caught: []example{
			{"web/server.go", "text/template"},
			{"store/store.go", "unsafe"},
			{"cmd/frywright/serve.go", "net/http/pprof"},
			{"domain/intake/read.go", "encoding/xml"},
		},
		allowed: []example{{"domain/intake/read.go", "encoding/csv"}, {"domain/standard/entry_test.go", "crypto/sha1"}},
	},
	{
		name: "tests' tools stay in tests",
		why:  "what only tests need must not be shipped",
		bans: func(s source, imp string) bool { return !supports(s) && within(imp, tools...) },
		caught: []example{
			{"store/store.go", "testing"},
			{"domain/drift/drift.go", "pgregory.net/rapid"},
			{"web/server.go", "github.com/stretchr/testify/require"},
			{"cmd/frywright/main.go", "net/http/httptest"},
			{"domain/contest/contest.go", "testing"},
		},
		allowed: []example{
			{"store/store_test.go", "testing"},
			{"store/storetest/suite.go", "github.com/stretchr/testify/require"},
			{"e2e/browser.go", "github.com/chromedp/chromedp"},
		},
	},
	{
		name:    "the browser tests are nobody's library",
		why:     "they stand outside and drive the program as a person would",
		bans:    func(s source, imp string) bool { return !within(s.dir(), "e2e") && within(imp, module+"/e2e") },
		caught:  []example{{"web/server_test.go", "frywright/e2e"}},
		allowed: []example{{"e2e/walk_test.go", "frywright/e2e/axe"}},
	},
}
