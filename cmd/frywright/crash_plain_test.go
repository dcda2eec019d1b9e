//go:build !race

package main

// usualKills is how many processes are killed.
const usualKills = 200
