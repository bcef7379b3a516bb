package server

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReasonsAreDocumented: each reason word of an error stands in the contract,
// which says that they are part of it.
func TestReasonsAreDocumented(t *testing.T) {
	read := func(pattern string) string {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		require.NotEmpty(t, files, pattern)
		text := ""
		for _, file := range files {
			raw, err := os.ReadFile(file)
			require.NoError(t, err)
			text += string(raw)
		}
		return text
	}
	contract := read("../proto/beltspan/v1/*.proto")
	reason := regexp.MustCompile(`\b[rR]eason[A-Z]\w* *= *"([A-Z_]+)"`)
	for _, folder := range []string{".", "../beltmath", "../beltmath/base", "../beltmath/path"} {
		found := reason.FindAllStringSubmatch(read(folder+"/*.go"), -1)
		require.NotEmpty(t, found, folder)
		for _, word := range found {
			assert.Contains(t, contract, "`"+word[1]+"`", folder)
		}
	}
}
