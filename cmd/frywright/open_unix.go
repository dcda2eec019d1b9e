//go:build unix

package main

import (
	"os/signal"
	"syscall"
)

// A file that grew to the limit of the process is a disk that is full, not a reason to die.
func init() { signal.Ignore(syscall.SIGXFSZ) }
