// Package migrations embeds the numbered, forward-only changes of the database's form. It must not know who runs them.
package migrations

import "embed"

// Files holds the .sql files, to be run in the order of their names.
//
//go:embed *.sql
var Files embed.FS
