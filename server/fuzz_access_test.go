package server

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

const fileOfTokens = "# the pit crew\r\nana:0123456789abcdef0123456789abcdef\n\nrig-2:correct:horse:battery\nana:fedcba9876543210\n"

func admitted(a *access, authorization string) (string, error) {
	return a.admitHTTP(&http.Request{Header: http.Header{"Authorization": {authorization}}})
}

// tokenFault is all that is ever said of a token file: no word of it.
var tokenFault = regexp.MustCompile(`^(line \d+ is not name:token, the name 1 to 64 printable characters without space` +
	"|the token in line \\d+ is not 16 to 256 printable ASCII characters without space: `openssl rand -hex 32` makes one)$")

// FuzzTokens: a token file is refused without repeating it, or each of its lines
// opens the door, and only those.
func FuzzTokens(f *testing.F) {
	for _, seed := range []string{fileOfTokens, "", "#", "ana", "ana:", ":0123456789abcdef", "ana:short", "a b:0123456789abcdef", "\xff:0123456789abcdef", "\ufeffana:0123456789abcdef"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		list, err := readTokens([][]byte{file})
		if err != nil {
			require.Regexp(t, tokenFault, err.Error())
			return
		}
		a := &access{}
		a.tokens.Store(&list)
		owners := map[string][]string{}
		lines := 0
		for line := range strings.SplitSeq(string(file), "\n") {
			if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
				name, secret, _ := strings.Cut(line, ":")
				owners[secret] = append(owners[secret], name)
				lines++
			}
		}
		require.Len(t, list, lines)
		for secret, names := range owners {
			name, err := admitted(a, "Bearer "+secret)
			require.NoError(t, err)
			require.Contains(t, names, name)
			name, err = admitted(a, "Basic "+base64.StdEncoding.EncodeToString([]byte(name+":"+secret)))
			require.NoError(t, err)
			require.Contains(t, names, name)
			if _, other := owners[secret+"x"]; !other {
				_, err = admitted(a, "Bearer "+secret+"x")
				require.Error(t, err)
			}
		}
	})
}

// FuzzAuthorization: whatever stands in the header, only a whole token lets in,
// and whoever stays outside is told so.
func FuzzAuthorization(f *testing.F) {
	for _, seed := range []string{
		"", "Bearer", "Bearer ", "Bearer 0123456789abcdef0123456789abcdef", "bearer  fedcba9876543210 ", "Bearer 0123456789abcdef0123456789abcde",
		"Basic " + base64.StdEncoding.EncodeToString([]byte("rig-2:correct:horse:battery")), "Basic " + base64.StdEncoding.EncodeToString([]byte("ana:correct:horse:battery")),
		"Basic =", "Digest x", "Bearer \x00", "Bearer\tfedcba9876543210", "BASIC " + base64.StdEncoding.EncodeToString([]byte("ana")),
	} {
		f.Add(seed)
	}
	list, err := readTokens([][]byte{[]byte(fileOfTokens)})
	require.NoError(f, err)
	secrets := map[string][]string{"ana": {"0123456789abcdef0123456789abcdef", "fedcba9876543210"}, "rig-2": {"correct:horse:battery"}}
	a := &access{}
	a.tokens.Store(&list)
	var door string
	guarded := &front{
		access: a, cross: http.NewCrossOriginProtection(), ready: func() bool { return true },
		next:   http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { door = callerName(r.Context()) }),
		refuse: func(w http.ResponseWriter, _ *http.Request, _ error) { w.WriteHeader(http.StatusUnauthorized) },
	}
	f.Fuzz(func(t *testing.T, header string) {
		scheme, value, _ := strings.Cut(header, " ")
		name, err := admitted(a, header)
		switch {
		case err != nil:
			require.Equal(t, codes.Unauthenticated, status.Code(err))
			require.Empty(t, name)
		case strings.EqualFold(scheme, "bearer"):
			require.Contains(t, secrets[name], strings.TrimSpace(value))
		default:
			require.True(t, strings.EqualFold(scheme, "basic"))
			raw, err := base64.StdEncoding.DecodeString(value)
			require.NoError(t, err)
			user, secret, _ := strings.Cut(string(raw), ":")
			require.Equal(t, name, user)
			require.Contains(t, secrets[name], secret)
		}

		door = ""
		r := httptest.NewRequest(http.MethodGet, "/v1/sections", nil)
		r.Header["Authorization"] = []string{header}
		w := httptest.NewRecorder()
		guarded.ServeHTTP(w, r)
		require.Equal(t, name, door)
		require.Equal(t, err != nil, w.Header().Get("WWW-Authenticate") != "")

		overGRPC, grpcErr := a.admitGRPC(t.Context(), []string{header})
		bearer := err == nil && strings.EqualFold(scheme, "bearer")
		require.Equal(t, bearer, grpcErr == nil, "gRPC takes Bearer only")
		require.True(t, !bearer || overGRPC == name)
	})
}

// FuzzRequestHeaders: whatever callers write into the headers that the log
// takes, or into the path, the log has one line a request, and an answer one id.
func FuzzRequestHeaders(f *testing.F) {
	f.Add("GET", "/v1/sections", "abc-1", "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01")
	f.Add("POST", "/\n{\"level\":\"ERROR\"}", "a b", "ff-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01")
	f.Add("\x00", "\xff", strings.Repeat("x", 65), "01-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01-more")
	f.Add("", "", "\u00e9", "00-00000000000000000000000000000000-00f067aa0ba902b7-01")
	plain := regexp.MustCompile(`^[!-~]{1,64}$`)
	f.Fuzz(func(t *testing.T, method, path, id, parent string) {
		var buf bytes.Buffer
		l := &requestLogger{log: slog.New(slog.NewJSONHandler(&buf, nil))}
		r := (&http.Request{Method: method, URL: &url.URL{Path: path}, Header: http.Header{}}).WithContext(t.Context())
		r.Header["X-Request-Id"], r.Header["Traceparent"] = []string{id}, []string{parent}
		got := l.refusedHTTP(r, errNoToken())

		require.Regexp(t, plain, got)
		if plain.MatchString(id) {
			require.Equal(t, id, got)
		}
		require.Equal(t, 1, bytes.Count(buf.Bytes(), []byte("\n")))
		var line map[string]any
		require.NoError(t, json.Unmarshal(buf.Bytes(), &line))
		require.Equal(t, got, line["request_id"])
		require.True(t, utf8.Valid(buf.Bytes()))
		trace, _ := line["trace_id"].(string)
		require.Equal(t, traceOf(parent), trace)
	})
}

// traceOf reads a traceparent by its fields, as W3C Trace Context lays down.
func traceOf(parent string) string {
	part := strings.Split(parent, "-")
	hex := func(i, digits int) bool {
		return len(part[i]) == digits && strings.Trim(part[i], "0123456789abcdef") == ""
	}
	notZero := func(i int) bool { return strings.Trim(part[i], "0") != "" }
	switch {
	case len(parent) > 512 || len(part) < 4 || !hex(0, 2) || !hex(1, 32) || !hex(2, 16) || !hex(3, 2):
	case part[0] == "ff" || part[0] == "00" && len(part) > 4 || !notZero(1) || !notZero(2):
	case slices.ContainsFunc(part[4:], func(more string) bool { return strings.Contains(more, "\n") }): // no header has it
	default:
		return part[1]
	}
	return ""
}
