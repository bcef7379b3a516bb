package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReadme runs every command of README.md against a running service and
// compares what it prints with what stands there. Set UPDATE_README=1 to write
// the true output into the file.
func TestReadme(t *testing.T) {
	const path = "../../README.md"
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	service := startServe(t)
	rewrite := strings.NewReplacer("http://127.0.0.1:8017", service.rest, "127.0.0.1:9017", service.grpc)
	blocks := strings.Split(string(raw), "```console\n")
	commands := 0
	for i, block := range blocks[1:] {
		body, rest, ok := strings.Cut(block, "```")
		require.True(t, ok)
		var actual strings.Builder
		for _, part := range strings.Split("\n"+body, "\n$ ")[1:] {
			line, want, _ := strings.Cut(part, "\n")
			want = strings.TrimSuffix(want, "\n")
			commands++
			got := runShell(t, rewrite.Replace(line), service)
			actual.WriteString("$ " + line + "\n" + got + "\n")
			if os.Getenv("UPDATE_README") == "" {
				compareOutput(t, line, want, got)
			}
		}
		blocks[i+1] = actual.String() + "```" + rest
	}
	assert.GreaterOrEqual(t, commands, 6)
	if os.Getenv("UPDATE_README") != "" {
		require.NoError(t, os.WriteFile(path, []byte(strings.Join(blocks, "```console\n")), 0o600))
	}
}

// runShell runs a line as a user would, from the top of the repository. The
// test binary stands for the program on the path.
func runShell(t *testing.T, line string, service serving) string {
	t.Helper()
	program, _, _ := strings.Cut(line, " ")
	if _, err := exec.LookPath(program); err != nil && os.Getenv("CI") == "" {
		t.Skipf("%s is not installed here; README.md uses it", program)
	}
	shell := exec.CommandContext(t.Context(), "sh", "-c", line) //nolint:gosec // the README's own lines
	shell.Dir = "../.."
	shell.Env = append(os.Environ(), "BELTSPAN_URL="+service.rest, "BELTSPAN_ADDR="+service.grpc)
	out, err := shell.CombinedOutput()
	if err != nil {
		require.ErrorContains(t, err, "exit status 1", string(out)) // a refusal is part of the README
	}
	return strings.TrimRight(string(out), "\n")
}

// compareOutput compares JSON by its values: its spacing differs from build to
// build.
func compareOutput(t *testing.T, line, want, got string) {
	t.Helper()
	if json.Valid([]byte(want)) && json.Valid([]byte(got)) {
		assert.JSONEq(t, want, got, line)
		return
	}
	assert.Equal(t, want, got, line)
}
