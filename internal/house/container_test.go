package house_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTheImageIsBuiltByTheMakefile keeps the Dockerfile in step with what is run every day: its steps are targets of the
// Makefile, and its compiler is the one of go.mod.
func TestTheImageIsBuiltByTheMakefile(t *testing.T) {
	dockerfile, makefile, mod := text(t, "Dockerfile"), text(t, "Makefile"), text(t, "go.mod")

	steps := regexp.MustCompile(`(?m)^RUN make (\S+)$`).FindAllStringSubmatch(dockerfile, -1)
	require.NotEmpty(t, steps)
	for _, step := range steps {
		assert.Contains(t, makefile, "\n"+step[1]+":", "make %s is no target", step[1])
	}
	assert.NotRegexp(t, `(?m)^RUN (npm|go build|go tool)`, dockerfile, "such steps belong to the Makefile")

	version := regexp.MustCompile(`(?m)^go (\S+)$`).FindStringSubmatch(mod)
	require.NotNil(t, version)
	assert.Contains(t, dockerfile, "FROM golang:"+version[1]+"-")
	assert.Contains(t, text(t, "tools/lint/go.mod"), version[0]+"\n")

	final := dockerfile[strings.LastIndex(dockerfile, "\nFROM "):]
	assert.Regexp(t, `(?m)^USER [a-z]+$`, final, "nothing in the image needs to be root")
	assert.Contains(t, final, "\nHEALTHCHECK ")
}

func text(t *testing.T, rel string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(root(t), filepath.FromSlash(rel)))
	require.NoError(t, err)
	return string(b)
}
