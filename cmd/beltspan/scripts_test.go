package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// needProgram skips a test where a program is missing, but not in the gate.
func needProgram(t *testing.T, name, debian string) string {
	t.Helper()
	program, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is needed: apt-get install %s", name, debian)
		}
		t.Skipf("%s is not installed here: apt-get install %s", name, debian)
	}
	return program
}

// copyExample copies a client from api/examples, as a user would, to a
// directory that holds nothing else of ours.
func copyExample(t *testing.T, name string) (dir string) {
	t.Helper()
	text, err := os.ReadFile("../../api/examples/" + name)
	require.NoError(t, err)
	dir = t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, name), text, 0o600))
	return dir
}

// runScript runs a program in a directory and tells what it wrote and how it
// ended.
func runScript(t *testing.T, dir string, env []string, program string, args ...string) (exit int, stdout, stderr string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, args...) //nolint:gosec // the test's own words
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), env...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	if err != nil {
		var ended *exec.ExitError
		require.ErrorAs(t, err, &ended)
	}
	return cmd.ProcessState.ExitCode(), out.String(), errs.String()
}

// TestShellScript drills and draws with nothing but curl.
func TestShellScript(t *testing.T) {
	needProgram(t, "curl", "curl")
	dir, s := copyExample(t, "drill.sh"), startServe(t)
	env := []string{"BELTSPAN_URL=" + s.rest + "/"}
	// The golden value of H5M, 36 and 45 teeth, 178 teeth is 343.67537186...
	exit, stdout, stderr := runScript(t, dir, env, "sh", "drill.sh", "H5M", "36", "45", "178", "drive.dxf")
	require.Equal(t, exitAnswered, exit, stderr)
	assert.Equal(t, "second axle at x = 343.6754 mm\ndrawn to scale in drive.dxf\n", stdout)
	drawn, err := os.ReadFile(filepath.Join(dir, "drive.dxf"))
	require.NoError(t, err)
	want, err := pb.NewDriveServiceClient(dialServing(t, s)).DrawDrive(t.Context(), &pb.DrawDriveRequest{
		Drive: &pb.Drive{
			Section: "H5M", Driver: &pb.Pulley{ToothCount: 36}, Driven: &pb.Pulley{ToothCount: 45}, BeltToothCount: new(int32(178)),
		},
		Format: pb.DrawingFormat_DRAWING_FORMAT_DXF,
	})
	require.NoError(t, err)
	assert.Equal(t, string(want.Data), string(drawn))

	exit, _, stderr = runScript(t, dir, env, "sh", "-c", "umask 022 && sh drill.sh H5M 36 45 178 drive.svg")
	require.Equal(t, exitAnswered, exit, stderr)
	info, err := os.Stat(filepath.Join(dir, "drive.svg"))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o644), info.Mode(), "the umask decides who may read a drawing")
	exit, stdout, stderr = runScript(t, dir, env, "sh", "drill.sh", "H5M", "36", "45", "178", "drive.png")
	assert.Equal(t, exitUsage, exit)
	assert.Empty(t, stdout)
	assert.Equal(t, "drive.png: give a name that ends in .dxf or .svg\n", stderr)

	exit, stdout, stderr = runScript(t, dir, env, "sh", "drill.sh", "H5Z", "36", "3", "178", "refused.dxf")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Empty(t, stdout)
	assert.Regexp(t, `(?i)^section: no such section; the nearest are H5M.*\ndriven: give a whole number from 6 to 600`, stderr)
	assert.NoFileExists(t, filepath.Join(dir, "refused.dxf"))

	exit, _, stderr = runScript(t, dir, []string{"BELTSPAN_URL=http://127.0.0.1:1"}, "sh", "drill.sh", "H5M", "36", "45", "178", "refused.dxf")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Contains(t, stderr, "connect")
	exit, _, _ = runScript(t, dir, env, "sh", "drill.sh", "H5M")
	assert.Equal(t, exitUsage, exit)
}

// TestJavaScript runs the module as a program.
func TestJavaScript(t *testing.T) {
	node := needProgram(t, "node", "nodejs")
	dir, s := copyExample(t, "substitutes.mjs"), startServe(t)
	env := []string{"BELTSPAN_URL=" + s.rest + "/", "NODE_NO_WARNINGS=1"}
	exit, stdout, stderr := runScript(t, dir, env, node, "substitutes.mjs", "H5M", "36", "36", "178", "355")
	require.Equal(t, exitAnswered, exit, stderr)
	// 5 (2 * 174 - 64) / 4 = 355 and 5 (2 * 174 - 66) / 4 = 352.5 by the closed form of equal pulleys.
	assert.Regexp(t, `(?m)^174 teeth on pulleys 32 and 32: fits the holes, off by 0\.000 mm$`, stdout)
	assert.Regexp(t, `(?m)^174 teeth on pulleys 33 and 33: wants a hole moved by -2\.500 mm$`, stdout)
	assert.Empty(t, stderr)

	exit, stdout, stderr = runScript(t, dir, env, node, "substitutes.mjs", "H5M", "36", "3", "178", "-355")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Empty(t, stdout)
	assert.Regexp(t, `^drive\.driven\.tooth_count is 3: .*\ndrilled_center_distance_mm is -355: .*\n$`, stderr)

	exit, _, stderr = runScript(t, dir, []string{"BELTSPAN_URL=http://127.0.0.1:9"}, node, "substitutes.mjs", "H5M", "36", "36", "178", "355")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Regexp(t, `^no answer: .*is the service running\?\n`, stderr)
	for _, bad := range []string{"many", "Infinity", "", " "} {
		exit, _, stderr = runScript(t, dir, env, node, "substitutes.mjs", "H5M", "36", "36", "178", bad)
		assert.Equal(t, exitUsage, exit, bad)
		assert.Contains(t, stderr, "usage: ", bad)
	}
}

// TestJavaScriptInPage lets a page of another site use the module, where the
// service allows it and where not.
func TestJavaScriptInPage(t *testing.T) {
	browser := needProgram(t, "chromium", "chromium")
	dir := copyExample(t, "substitutes.mjs")
	site := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/" {
			http.ServeFile(w, r, filepath.Join(dir, "substitutes.mjs"))
			return
		}
		w.Header().Set("Content-Type", "text/html")
		_, _ = io.WriteString(w, `<p id="p">none</p><script type="module">
			import { substitutes } from "./substitutes.mjs";
			const write = (text) => { document.getElementById("p").textContent = text; };
			substitutes({ section: "H5M", driver: 36, driven: 36, belt: 178, drilledMm: 355 }, { url: new URLSearchParams(location.search).get("service") })
				.then((answer) => write("found " + answer.substitutes[0].drive.beltToothCount), (fault) => write("not let in: " + fault));
			</script>`)
	}))
	t.Cleanup(site.Close)
	for want, flags := range map[string][]string{"found 174": {"--allow-origin", site.URL}, "not let in": nil} {
		page := site.URL + "/?service=" + url.QueryEscape(startServe(t, flags...).rest)
		profile := "--user-data-dir=" + t.TempDir()
		exit, shown, stderr := runScript(t, dir, []string{"HOME=" + dir}, browser, "--headless", "--no-sandbox", "--disable-gpu", profile,
			"--virtual-time-budget=20000", "--dump-dom", page)
		require.Zero(t, exit, stderr)
		assert.Contains(t, shown, `<p id="p">`+want)
	}
}

// python is Debian's own interpreter with the packages of the gRPC client.
func python(t *testing.T) string {
	t.Helper()
	const program = "/usr/bin/python3"
	needProgram(t, "grpc_python_plugin", "protobuf-compiler-grpc libprotobuf-dev")
	if exec.CommandContext(t.Context(), program, "-c", "import grpc, google.protobuf").Run() != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("a gRPC of Python is needed: apt-get install python3-grpcio python3-protobuf")
		}
		t.Skip("Python's gRPC is not installed here: apt-get install python3-grpcio python3-protobuf")
	}
	return program
}

// makeStubs follows the words at the head of the client.
func makeStubs(t *testing.T, script string) (dir string) {
	t.Helper()
	_, steps, ok := strings.Cut(script, "\n    go run ")
	require.True(t, ok)
	steps, _, ok = strings.Cut(steps, "export PYTHONPATH")
	require.True(t, ok)
	dir = t.TempDir()
	inside := strings.NewReplacer("../../.protodeps", dir+"/protodeps", ".protodeps", dir+"/protodeps", "stubs", dir)
	exit, _, stderr := runScript(t, "../..", nil, "sh", "-e", "-c", inside.Replace("go run "+steps))
	require.Zero(t, exit, stderr)
	return dir
}

// TestPythonGRPC makes a client from the contract with Debian's packages and
// lets it ask one question, a wrong one, and a stream.
func TestPythonGRPC(t *testing.T) {
	interpreter := python(t)
	dir, s := copyExample(t, "grpc_check.py"), startServe(t)
	script, err := os.ReadFile(filepath.Join(dir, "grpc_check.py"))
	require.NoError(t, err)
	stubs := "PYTHONPATH=" + makeStubs(t, string(script))
	env := []string{stubs, "BELTSPAN_ADDR=" + s.grpc}
	ask := func(env []string, args ...string) (int, string, string) {
		return runScript(t, dir, env, interpreter, append([]string{"grpc_check.py"}, args...)...)
	}

	exit, stdout, stderr := ask(env, "center", "H5M", "36", "45", "178")
	require.Equal(t, exitAnswered, exit, stderr)
	assert.Contains(t, stdout, "second axle at x = "+centerOverREST(t, s)+" mm\n")

	exit, stdout, stderr = ask(env, "center", "H5Z", "36", "3", "178")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Empty(t, stdout)
	assert.Regexp(t, `^drive\.section is "H5Z": .*\ndrive\.driven\.tooth_count is 3: .*\n$`, stderr) // one for each field

	batch, err := filepath.Abs(demoBatch)
	require.NoError(t, err)
	exit, stdout, stderr = ask(env, "check", batch)
	assert.Equal(t, exitNoAnswer, exit, stderr)
	assert.Equal(t, "15 fits, 3 invalid, 3 marginal, 11 rejected, 1 unreadable", lastLine([]byte(stdout))) // as check.py counts
	assert.Contains(t, stdout, "C02 REJECTED +0.70 mm: its belt wants 343.6754 mm\n")

	exit, _, stderr = ask([]string{stubs, "BELTSPAN_ADDR=127.0.0.1:1"}, "center", "H5M", "36", "45", "178")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Regexp(t, `^UNAVAILABLE: `, stderr)
	const head = "id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\n"
	for name, text := range map[string]string{
		"empty.csv": "", "rowless.csv": head, "short.csv": "id,section\nA,H5M\n", "latin.csv": head + "\xff,H5M,36,36,174,345\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	for _, tt := range []struct {
		args []string
		says string
	}{
		{[]string{"center"}, "^usage: "},
		{[]string{"center", "H5M", "36", "many", "178"}, "^give teeth as whole numbers: .*many"},
		{[]string{"check", "none.csv"}, "none.csv"},
		{[]string{"check", "empty.csv"}, "^the first line has to name these columns too: id, section"},
		{[]string{"check", "rowless.csv"}, "^the file has no rows"},
		{[]string{"check", "short.csv"}, "these columns too: driver_tooth_count"},
		{[]string{"check", "latin.csv"}, "can't decode"},
	} {
		exit, stdout, stderr = ask(env, tt.args...)
		assert.Equal(t, exitUsage, exit, tt.args)
		assert.Empty(t, stdout, tt.args)
		assert.Regexp(t, tt.says, stderr, tt.args)
		assert.NotContains(t, stderr, "Traceback", tt.args)
	}
	exit, _, stderr = ask([]string{stubs, "BELTSPAN_CA_FILE=gone.pem"}, "center", "H5M", "36", "45", "178")
	assert.Equal(t, exitUsage, exit)
	assert.Regexp(t, "^[^\n]*gone.pem[^\n]*\n$", stderr)

	path := secureFiles(t)
	team := startServe(t, "--tls-cert", path("server.pem"), "--tls-key", path("server.key"), "--token-file", path("tokens"))
	port := team.grpc[strings.LastIndex(team.grpc, ":"):]
	closed := []string{stubs, "BELTSPAN_ADDR=localhost" + port, "BELTSPAN_CA_FILE=" + path("ca.pem")}
	exit, _, stderr = ask(closed, "center", "H5M", "36", "45", "178")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Regexp(t, `^UNAUTHENTICATED: a token is needed`, stderr)
	exit, _, stderr = ask(append(closed, "BELTSPAN_TOKEN="+testToken), "center", "H5M", "36", "45", "178")
	assert.Equal(t, exitAnswered, exit, stderr)
}

// centerOverREST is a center distance in the digits of REST.
func centerOverREST(t *testing.T, s serving) string {
	t.Helper()
	resp, err := http.Get(s.rest + "/v1/drives:solveCenterDistance?drive.section=H5M&drive.driver.toothCount=36&drive.driven.toothCount=45&drive.beltToothCount=178")
	require.NoError(t, err)
	defer func() { _ = resp.Body.Close() }()
	var answer struct {
		Geometry struct{ CenterDistanceMm json.Number }
	}
	require.NoError(t, json.NewDecoder(resp.Body).Decode(&answer))
	return answer.Geometry.CenterDistanceMm.String()
}

// TestScriptsOfATeam brings a token over TLS with each client of REST.
func TestScriptsOfATeam(t *testing.T) {
	path := secureFiles(t)
	s := startServe(t, "--tls-cert", path("server.pem"), "--tls-key", path("server.key"), "--token-file", path("tokens"))
	service := "BELTSPAN_URL=https://localhost" + s.rest[strings.LastIndex(s.rest, ":"):]
	tests := []struct{ program, debian, script, trust string }{
		{"sh", "curl", "drill.sh", "BELTSPAN_CA_FILE"},
		{"node", "nodejs", "substitutes.mjs", "NODE_EXTRA_CA_CERTS"},
		{"freecadcmd", "freecad-python3", plateMacro, "BELTSPAN_CA_FILE"},
		{"python3", "python3", "center.py", "BELTSPAN_CA_FILE"},
	}
	for _, tt := range tests {
		t.Run(tt.script, func(t *testing.T) {
			needProgram(t, tt.program, tt.debian)
			dir := copyExample(t, tt.script)
			args := map[string][]string{"sh": {"H5M", "36", "45", "178", "drive.dxf"}, "node": {"H5M", "36", "36", "178", "355"}}[tt.program]
			args = append([]string{tt.script}, args...)
			env := []string{service, tt.trust + "=" + path("ca.pem"), "HOME=" + dir, "NODE_NO_WARNINGS=1"}
			exit, stdout, stderr := runScript(t, dir, env, tt.program, args...)
			assert.Equal(t, exitNoAnswer, exit, stdout)
			assert.Contains(t, stderr, "a token is needed")
			exit, _, stderr = runScript(t, dir, append(env, "BELTSPAN_TOKEN="+testToken), tt.program, args...)
			assert.Equal(t, exitAnswered, exit, stderr)
		})
	}
}

// TestScriptUntrusted: node, which reads no BELTSPAN_CA_FILE, tells what it reads.
func TestScriptUntrusted(t *testing.T) {
	node := needProgram(t, "node", "nodejs")
	path := secureFiles(t)
	s := startServe(t, "--tls-cert", path("server.pem"), "--tls-key", path("server.key"))
	service := "BELTSPAN_URL=https://localhost" + s.rest[strings.LastIndex(s.rest, ":"):]
	exit, _, stderr := runScript(t, copyExample(t, "substitutes.mjs"), []string{service}, node, "substitutes.mjs", "H5M", "36", "36", "178", "355")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Contains(t, stderr, "NODE_EXTRA_CA_CERTS names the file of authorities")
}

// TestGoClientOfATeam brings a token over TLS with the client in Go.
func TestGoClientOfATeam(t *testing.T) {
	path := secureFiles(t)
	program := filepath.Join(t.TempDir(), "goclient")
	exit, _, stderr := runScript(t, "../..", nil, "go", "build", "-o", program, "./api/examples/goclient")
	require.Zero(t, exit, stderr)
	s := startServe(t, "--tls-cert", path("server.pem"), "--tls-key", path("server.key"), "--token-file", path("tokens"))
	env := []string{"BELTSPAN_ADDR=localhost" + s.grpc[strings.LastIndex(s.grpc, ":"):], "BELTSPAN_CA_FILE=" + path("ca.pem")}
	exit, _, stderr = runScript(t, ".", env, program)
	assert.Equal(t, exitNoAnswer, exit)
	assert.Contains(t, stderr, "a token is needed")
	exit, stdout, stderr := runScript(t, ".", append(env, "BELTSPAN_TOKEN="+testToken), program)
	assert.Equal(t, exitAnswered, exit, stderr)
	assert.Contains(t, stdout, "174 teeth: center distance -2.00 mm, listed true") // 5 (2 * 174 - 72) / 4 = 345
}

// TestCheckScriptRefused: what check.py cannot ask is told in a line, and no
// build takes it for a file in which all fits.
func TestCheckScriptRefused(t *testing.T) {
	interpreter := needProgram(t, "python3", "python3")
	dir, s := copyExample(t, "check.py"), startServe(t)
	const head = "id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\n"
	files := map[string]string{
		"empty.csv": "", "rowless.csv": head, "short.csv": "id,section\nA,H5M\n", "latin.csv": head + "\xff,H5M,36,36,174,345\n",
		"nan.csv": head + "A,H5M,36,36,174,nan\nB,H5M,36,36,174,345\n",
	}
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	tests := []struct {
		url    string
		args   []string
		exit   int
		stdout string
		stderr string
	}{
		{s.rest, nil, 2, "", "usage: "},
		{s.rest, []string{"none.csv"}, 2, "", "none.csv"},
		{s.rest, []string{"empty.csv"}, 2, "", "these columns too: id, section"},
		{s.rest, []string{"rowless.csv"}, 2, "", "the file has no rows"},
		{s.rest, []string{"short.csv"}, 2, "", "these columns too: driver_tooth_count"},
		{s.rest, []string{"latin.csv"}, 2, "", "can't decode"},
		{s.rest + "/", []string{"nan.csv"}, 1, "A UNREADABLE nan is no finite number\n1 fits, 1 unreadable\n", ""},
		{"http://127.0.0.1:1", []string{"nan.csv"}, 2, "A UNREADABLE nan is no finite number\n", "does not answer as Beltspan does"},
	}
	for _, tt := range tests {
		exit, stdout, stderr := runScript(t, dir, []string{"BELTSPAN_URL=" + tt.url}, interpreter, append([]string{"check.py"}, tt.args...)...)
		assert.Equal(t, tt.exit, exit, tt.args)
		assert.Equal(t, tt.stdout, stdout, tt.args)
		assert.Contains(t, stderr, tt.stderr, tt.args)
		assert.NotContains(t, stderr, "Traceback", tt.args)
	}
}
