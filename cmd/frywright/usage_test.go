package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestACommandLineThatIsNotUnderstood(t *testing.T) {
	for _, c := range []struct {
		args        []string
		says, usage string
	}{
		{[]string{"bogus"}, `there is no command "bogus"; frywright --help tells more`, ""},
		{[]string{"--log", "debug", "bogus"}, `there is no command "bogus"; frywright --help tells more`, ""},
		{[]string{"bogus", "serve"}, `there is no command "bogus"; frywright --help tells more`, ""},
		{[]string{"import", "--bogus", "f.csv"}, "unknown flag --bogus", "frywright import"},
		{[]string{"backup"}, "expected \"<to>\"", "frywright backup"},
		{[]string{"serve", "bogus"}, "unexpected argument bogus; frywright serve --help tells more", "frywright serve"},
		{[]string{"serve", "--cert", "c.pem"}, "--cert and --key are given together", "frywright serve"},
		{[]string{"--bogus"}, "unknown flag --bogus", "Usage: frywright"},
	} {
		err := run(c.args)
		var misuse *usageError
		require.ErrorAs(t, err, &misuse, c.args)
		assert.Contains(t, err.Error(), c.says)
		if c.usage == "" {
			assert.NotContains(t, err.Error(), "\n", "one line, and not how another command is used")
		}
		assert.Contains(t, err.Error(), c.usage)
		assert.NotContains(t, err.Error(), "--listen=", "not the whole table of flags")
	}
}
