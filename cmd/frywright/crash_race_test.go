//go:build race

package main

// usualKills is how many processes are killed. Under the race detector a process starts ten times as slowly, and what it
// looks for does not show in how a process ends.
const usualKills = 40
