package main

import (
	"bytes"
	"log/slog"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestSlowQueriesAreLoggedByTheirTextAlone(t *testing.T) {
	var log bytes.Buffer
	d := &door{}
	logger := slog.New(slog.NewTextHandler(&log, nil))
	ran := d.ran(logger, 100*time.Millisecond)
	ran("SELECT id\n\t\tFROM fryer WHERE tag = ?", 99*time.Millisecond)
	assert.Empty(t, log.String())
	ran("SELECT id\n\t\tFROM fryer WHERE tag = ?", 101*time.Millisecond)
	assert.Contains(t, log.String(), `msg="slow query" took=101ms statement="SELECT id FROM fryer WHERE tag = ?"`)
	assert.Nil(t, d.ran(logger, 0), "nobody asks")
}
