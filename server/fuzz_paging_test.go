package server

import (
	"encoding/binary"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

func fuzzSearch() *pb.SearchSpacingsRequest {
	counts := func(low, high int32) *pb.ToothCounts { return &pb.ToothCounts{Min: &low, Max: &high} }
	return &pb.SearchSpacingsRequest{Sections: []string{"H5M", "T5"}, Driver: counts(20, 24), Driven: counts(20, 24), Belt: counts(60, 64)}
}

// FuzzPageToken: a list takes the tokens that it has given, to the letter, and
// no other text.
func FuzzPageToken(f *testing.F) {
	s := &Service{}
	given := map[string]map[string]bool{"sections": {"": true}, "lengths/H5M": {"": true}, "spacings": {"": true}}
	h5m, err := beltmath.FindSection("H5M")
	require.NoError(f, err)
	for what, n := range map[string]int{"sections": len(beltmath.Sections()), "lengths/H5M": len(h5m.BeltLengths())} {
		for i := range n + 1 {
			given[what][writeToken(binary.BigEndian.AppendUint64(nil, uint64(i)), what)] = true
		}
	}
	for token, size := "", int32(1); ; {
		request := fuzzSearch()
		request.PageSize, request.PageToken = &size, token
		response, err := s.SearchSpacings(f.Context(), request)
		require.NoError(f, err)
		if token = response.NextPageToken; token == "" {
			require.Len(f, given["spacings"], int(response.TotalSize), "a token a spacing but for the last")
			break
		}
		given["spacings"][token] = true
	}
	for _, tokens := range given {
		left := 3
		for token := range tokens {
			if left--; left < 0 {
				break
			}
			f.Add(token, int32(2))
			f.Add(token+"\n", int32(0))
			f.Add(token+"A", int32(1001))
		}
	}
	f.Fuzz(func(t *testing.T, token string, size int32) {
		search := fuzzSearch()
		search.PageSize, search.PageToken = &size, token
		_, spacings := s.SearchSpacings(t.Context(), search)
		_, sections := s.ListSections(t.Context(), &pb.ListSectionsRequest{PageSize: &size, PageToken: token})
		_, lengths := s.ListBeltLengths(t.Context(), &pb.ListBeltLengthsRequest{Section: "H5M", PageSize: &size, PageToken: token})
		for what, err := range map[string]error{"spacings": spacings, "sections": sections, "lengths/H5M": lengths} {
			most := map[string]int32{"spacings": maxSearchPage}[what]
			if most == 0 {
				most = maxListPage
			}
			wrongSize, wrongToken := size < 1 || size > most, !given[what][token]
			if what == "spacings" && wrongSize { // a search that is refused reads no token
				wrongToken = false
			}
			require.Equal(t, wrongSize, slices.Contains(violations(err), "page_size"), "%s: %v", what, err)
			require.Equal(t, wrongToken, slices.Contains(violations(err), "page_token"), "%s: %v", what, err)
		}
	})
}

// violations are the fields that an error names.
func violations(err error) []string {
	var fields []string
	for _, detail := range status.Convert(err).Details() {
		if bad, ok := detail.(*errdetails.BadRequest); ok {
			for _, v := range bad.GetFieldViolations() {
				fields = append(fields, v.GetField())
			}
		}
	}
	return fields
}

// FuzzSectionPath: the last part of a path is a section by its exact name, or
// nothing.
func FuzzSectionPath(f *testing.F) {
	for _, seed := range []string{"H5M", "h5m", "", "T5 ", "H5M/beltLengths", "%48", "\x00", "\xff", "..", "beltLengths", "a:b", "H5M\n"} {
		f.Add(seed, "2")
	}
	f.Add("XL", "1e1")
	f.Add("XL", "-0")
	f.Add("XL", "+7")
	f.Add("XL", "0x2")
	gateway := newRealGateway(f)
	known := map[string]bool{}
	for _, section := range beltmath.Sections() {
		known[section.Designation] = true
	}
	f.Fuzz(func(t *testing.T, name, size string) {
		one := getJSON(t, gateway, "/v1/sections/"+url.PathEscape(name))
		if name != "" && !strings.Contains(name, "/") { // an escaped slash parts a path like any other
			require.Equal(t, known[name], one.Code == http.StatusOK, "%s", one.Body)
		}
		list := getJSON(t, gateway, "/v1/sections?page_size="+url.QueryEscape(size))
		n, err := strconv.ParseInt(size, 10, 32)
		if errors.Is(err, strconv.ErrSyntax) || err == nil && (n < 1 || n > maxListPage) {
			require.Equal(t, http.StatusBadRequest, list.Code)
		}
		if list.Code == http.StatusOK {
			require.NoError(t, err)
			require.True(t, n >= 1 && n <= maxListPage)
		}
	})
}

func getJSON(t *testing.T, gateway http.Handler, target string) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	gateway.ServeHTTP(w, httptest.NewRequest(http.MethodGet, target, nil))
	requireAnswer(t, w)
	return w
}
