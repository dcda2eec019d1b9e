package main

import (
	"math"
	"runtime/debug"
)

// What the garbage collector goes by: the live data of a server is small beside what answering takes, so that collecting at
// every doubling costs much and saves little.
const (
	collectAt  = 300       // percent of growth
	heapTarget = 300 << 20 // bytes from which on it collects as it must
)

// thrifty sets the garbage collector, unless GOGC or GOMEMLIMIT in the environment say otherwise.
func thrifty() {
	if old := debug.SetGCPercent(collectAt); old != 100 {
		debug.SetGCPercent(old)
	}
	if old := debug.SetMemoryLimit(-1); old == math.MaxInt64 {
		debug.SetMemoryLimit(heapTarget)
	}
}
