// Looks for published vulnerabilities that the program reaches. The database too is a module, so that it is pinned like any
// other and no web site is asked. To take in what was published since: go -C tools/vuln get golang.org/x/vulndb@latest
module frywright/tools/vuln

go 1.26.8

tool (
	golang.org/x/vuln/cmd/govulncheck
	golang.org/x/vulndb/cmd/forks // named for its module, which holds the database; never built
)

require (
	golang.org/x/mod v0.42.0 // indirect
	golang.org/x/sync v0.24.0 // indirect
	golang.org/x/sys v0.49.0 // indirect
	golang.org/x/telemetry v0.0.0-20261010193011-f71dc92da45e // indirect
	golang.org/x/tools v0.52.0 // indirect
	golang.org/x/vuln v1.9.0 // indirect
	golang.org/x/vulndb v0.0.0-20261105234957-e22db6528018 // indirect
)
