package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const testToken = "bench-0123456789abcdef"

// secureFiles makes, with openssl, an authority, a server's certificate for
// planner.example and localhost, a client's, and files of tokens.
func secureFiles(t *testing.T) (path func(string) string) {
	t.Helper()
	if _, err := exec.LookPath("openssl"); err != nil && os.Getenv("CI") == "" {
		t.Skip("openssl is not installed here")
	}
	dir := t.TempDir()
	path = func(name string) string { return filepath.Join(dir, name) }
	write := func(name, text string) { require.NoError(t, os.WriteFile(path(name), []byte(text), 0o600)) }
	openssl := func(args string) {
		cmd := exec.CommandContext(t.Context(), "openssl", strings.Fields(args)...) //nolint:gosec // the test's own words
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, string(out))
	}
	openssl("req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 1 -keyout ca.key -out ca.pem -subj /CN=authority")
	write("names", "subjectAltName=DNS:planner.example,DNS:localhost\n")
	for _, name := range []string{"server", "client"} {
		openssl("req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -keyout " + name + ".key -out " + name + ".csr -subj /CN=" + name)
		openssl("x509 -req -in " + name + ".csr -CA ca.pem -CAkey ca.key -days 1 -extfile names -out " + name + ".pem")
	}
	write("tokens", "bench:"+testToken+"\n")
	write("token", testToken+"\n")
	write("wrong", "wrong-0123456789abcdef\n")
	return path
}

// TestSecureServer asks a service with TLS, client certificates and tokens.
func TestSecureServer(t *testing.T) {
	path := secureFiles(t)
	s := startServe(t, "--tls-cert", path("server.pem"), "--tls-key", path("server.key"),
		"--client-ca", path("ca.pem"), "--token-file", path("tokens"), "--admin-addr", "127.0.0.1:0")
	assert.Regexp(t, `^https://127\.0\.0\.1:[1-9][0-9]*/metrics$`, s.admin)
	assert.Regexp(t, `^https://127`, s.rest)
	// What serve prints works with the names of the files put in.
	own := strings.NewReplacer("127.0.0.1", "localhost", "CA.pem", path("ca.pem"), "ME.pem", path("client.pem"),
		"ME.key", path("client.key"), "MY-TOKEN", path("token"), "TOKEN", testToken)
	for _, request := range s.requests[:2] {
		got, err := exec.CommandContext(t.Context(), "sh", "-c", own.Replace(request)).CombinedOutput() //nolint:gosec // what serve prints
		require.NoError(t, err, "%s\n%s", request, got)
		assert.Regexp(t, `"centerDistanceMm": ?345,`, string(got))
	}
	_, words, _ := strings.Cut(own.Replace(s.requests[2]), " center ")
	exit, stdout, stderr := ask(t, append([]string{"center"}, strings.Fields(words)...)...)
	assert.Equal(t, exitAnswered, exit, stderr)
	assert.Contains(t, stdout, "center distance  345.0000 mm")

	full := []string{
		"--ca-file", path("ca.pem"), "--server-name", "planner.example",
		"--client-cert", path("client.pem"), "--client-key", path("client.key"),
	}
	withToken := append(full[:len(full):len(full)], "--token-file", path("token"))
	with := func(flags []string, more ...string) []string {
		return append(append([]string{"center", "H5M", "36", "36", "174", "--server", s.grpc}, flags...), more...)
	}
	exit, stdout, stderr = ask(t, with(withToken)...)
	assert.Equal(t, exitAnswered, exit, stderr)
	assert.Contains(t, stdout, "center distance  345.0000 mm")
	twice := with(withToken)
	twice[6] = s.grpc + "," + s.grpc
	exit, _, stderr = ask(t, twice...)
	assert.Equal(t, exitAnswered, exit, "a list, too: %s", stderr)

	var out bytes.Buffer
	getenv := func(name string) string { return map[string]string{"BELTSPAN_TOKEN": testToken}[name] }
	assert.Equal(t, exitAnswered, run(t.Context(), with(full), getenv, strings.NewReader(""), &out, io.Discard), "the token from the environment")

	for _, tt := range []struct {
		name string
		args []string
		exit int
		says string
	}{
		{"no token", with(full), exitNoAnswer, `^beltspan: a token is needed.*\nhint: give the token with --token-file`},
		{"wrong token", with(full, "--token-file", path("wrong")), exitNoAnswer, `^beltspan: the token is none of those`},
		{"no client certificate", with(full[:4], "--token-file", path("token")), exitNoAnswer, `^beltspan: a client certificate is needed`},
		{"other name", with([]string{"--ca-file", path("ca.pem")}), exitNoAnswer, `^beltspan: the certificate of 127.*\nhint: .*--server-name`},
		{"unknown authority", with([]string{"--tls", "--server-name", "planner.example"}), exitNoAnswer, `^beltspan: the certificate of 127[^\n]*unknown authority\nhint: --ca-file`},
		{"no TLS", with([]string{"--token-file", path("token")}), exitNoAnswer, `hint: .*TLS needs --tls`},
		{"no file", with([]string{"--ca-file", path("gone")}), exitUsage, `^beltspan: --ca-file is .*gone": .*no such file`},
		{"no PEM", with([]string{"--ca-file", path("token")}), exitUsage, `holds no certificate`},
		{"file of the server", with(full, "--token-file", path("tokens")), exitNoAnswer, `^beltspan: the token is none of those.*\nhint: the token given has a colon: the file of a server holds name:token`},
		{"two tokens", with([]string{"--tls", "--token-file", path("server.pem")}), exitUsage, `^beltspan: --token-file is .*one token and nothing else`},
		{"key alone", with([]string{"--tls", "--client-key", path("client.key")}), exitUsage, `belong together`},
		{"certificate without TLS", with([]string{"--server-name", "x"}), exitUsage, `certificates are for TLS`},
		{"no server", []string{"center", "H5M", "36", "36", "174", "--token-file", path("token")}, exitUsage, `for --server, which is not given`},
		{
			"token for all to read",
			[]string{"center", "H5M", "36", "36", "174", "--server", "127.0.0.1:1,192.0.2.1:1", "--token-file", path("token")},
			exitUsage, `cross the network for everybody to read`,
		},
		{"list without port", []string{"sections", "--server", "127.0.0.1:1,host"}, exitUsage, `--server is .*: give host and port`},
	} {
		exit, stdout, stderr := ask(t, tt.args...)
		assert.Equal(t, tt.exit, exit, "%s: %s", tt.name, stderr)
		assert.Empty(t, stdout, tt.name)
		assert.Regexp(t, tt.says, stderr, tt.name)
		assert.NotContains(t, stderr, testToken, tt.name)
	}
}

// TestUnreached tells in words what is at an address where no gRPC is, and what
// to check.
func TestUnreached(t *testing.T) {
	s := startServe(t)
	rest := strings.TrimPrefix(s.rest, "http://")
	for _, tt := range []struct {
		flags []string
		says  string
	}{
		{[]string{"--server", "127.0.0.1:1"}, "^beltspan: no service answers at 127.0.0.1:1: connection refused\nhint: is `beltspan serve` running, and gRPC at that host and port"},
		{[]string{"--server", "127.0.0.1:1", "--json"}, ""},
		{[]string{"--server", "127.0.0.1:1,127.0.0.1:2"}, "^beltspan: no service answers at 127.0.0.1:1,127.0.0.1:2: connection refused\nhint: "},
		{[]string{"--server", rest}, "^beltspan: the service at " + rest + " does not speak gRPC\nhint: " + rest + " answers REST"},
		{[]string{"--server", s.grpc, "--tls"}, "^beltspan: the service at " + s.grpc + " does not speak TLS\nhint: leave --tls"},
	} {
		exit, stdout, stderr := ask(t, append([]string{"center", "H5M", "36", "36", "174"}, tt.flags...)...)
		assert.Equal(t, exitNoAnswer, exit, tt.flags)
		assert.Regexp(t, tt.says, stderr, tt.flags)
		assert.NotRegexp(t, "rpc error|max retries|transport", stdout+stderr, tt.flags)
	}
}

// TestRemoteNeedsAWord: an address that others reach is refused without
// --allow-remote.
func TestRemoteNeedsAWord(t *testing.T) {
	exit, stdout, stderr := ask(t, "serve", "--grpc-addr", "0.0.0.0:0", "--http-addr", "127.0.0.1:0")
	assert.Equal(t, exitUsage, exit)
	assert.Empty(t, stdout)
	assert.Regexp(t, `^beltspan: gRPC address 0\.0\.0\.0:0: other machines can reach.*\nhint: --allow-remote`, stderr)
}

// TestFilesOfReplicas: README.md shows the service config that this program
// uses, and the manifest gives only flags that there are.
func TestFilesOfReplicas(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	assert.Contains(t, string(readme), "```json\n"+serviceConfig+"\n```")
	manifest, err := os.ReadFile("kubernetes.yaml")
	require.NoError(t, err)
	flags := regexp.MustCompile(`(?m)^ +- (--[a-z-]+(=\S+)?)$`).FindAllStringSubmatch(string(manifest), -1)
	require.GreaterOrEqual(t, len(flags), 9)
	serve := (&app{}).serveCommand()
	for _, flag := range flags {
		assert.NoError(t, serve.ParseFlags([]string{flag[1]}), flag[1])
	}
}
