package store

import (
	"errors"
	"syscall"

	"frywright/domain/fault"
)

// The result codes of SQLite that speak of the disk or the file, from https://www.sqlite.org/rescode.html; an extended
// code has one of them in its low byte.
const (
	codeBusy     = 5
	codeReadOnly = 8
	codeIO       = 10
	codeCorrupt  = 11
	codeFull     = 13
	codeCantOpen = 14
	codeNotADB   = 26
)

// What people are told when the disk or the file fails. Nothing of it is their doing, and what was typed is kept.
const (
	saidFull     = "This was not saved: the server's disk is full. What was saved before is safe and can be read. Tell whoever runs this instance; when there is room again, send this once more."
	saidReadOnly = "This was not saved: the server may not write to its disk. What was saved before is safe and can be read. Tell whoever runs this instance, then send this once more."
	saidDisk     = "This was not saved: the server's disk does not do what it is asked to. Tell whoever runs this instance; it can be sent once more."
	saidBusy     = "This was not saved: another program holds the database. Send it again in a moment."
	saidDamaged  = "The database file is damaged: not everything in it can be read, and nothing is made up in its place. Whoever runs this instance can see with \"frywright verify\" what is damaged, and put a backup in its place with \"frywright restore\", which keeps the damaged file."
	saidStranger = "The database file is damaged, or is no database of Frywright. Put a backup in its place with \"frywright restore\", which keeps the file that is there."
)

// Explain gives a failure of the disk or of the database file as a fault with a message for people; every other error as
// it is.
func Explain(err error) error {
	var said *fault.Error
	if err == nil || errors.As(err, &said) && said.Kind != fault.Internal {
		return err
	}
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return fault.Wrap(err, fault.Unavailable, saidFull)
	case errors.Is(err, syscall.EROFS):
		return fault.Wrap(err, fault.Unavailable, saidReadOnly)
	}
	if text := saidOf(codeOf(err)); text != "" {
		return fault.Wrap(err, fault.Unavailable, "%s", text)
	}
	return err
}

// saidOf gives what people are told of a result code; nothing where it does not speak of the disk or the file.
func saidOf(code int) string {
	switch code {
	case codeFull:
		return saidFull
	case codeReadOnly, codeCantOpen:
		return saidReadOnly
	case codeIO:
		return saidDisk
	case codeBusy:
		return saidBusy
	case codeCorrupt:
		return saidDamaged
	case codeNotADB:
		return saidStranger
	default:
		return ""
	}
}

// Damaged says whether an error tells of a damaged database file.
func Damaged(err error) bool {
	var found *damage
	code := codeOf(err)
	return errors.As(err, &found) || code == codeCorrupt || code == codeNotADB
}

// codeOf gives SQLite's result code of an error, without what extends it; 0 where it has none.
func codeOf(err error) int {
	var coded interface{ Code() int }
	if !errors.As(err, &coded) {
		return 0
	}
	return coded.Code() & 0xff
}
