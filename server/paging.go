package server

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"fmt"

	"github.com/beltspan/beltspan/beltmath"
)

// The size of a page where none is asked for, and the largest.
const (
	defaultPageSize = 100
	maxListPage     = 1000
)

// pageSize returns the asked size of a page, 1 to most.
func pageSize(size *int32, most int, errs *beltmath.InputErrors) int {
	n := defaultPageSize
	if size != nil {
		n = int(*size)
	}
	if n < 1 || n > most {
		*errs = append(*errs, &beltmath.InputError{
			Field: "PageSize", Value: n, Reason: beltmath.ReasonOutOfRange,
			Msg: fmt.Sprintf("give a whole number from 1 to %d", most),
		})
	}
	return n
}

// page cuts one page out of a fixed list. what names the list: a token of
// another list is refused.
func page[T any](all []T, size *int32, token, what string) ([]T, string, error) {
	var errs beltmath.InputErrors
	n := pageSize(size, maxListPage, &errs)
	start := 0
	if token != "" {
		position, err := readToken(token, what)
		if err != nil || len(position) != 8 || binary.BigEndian.Uint64(position) > uint64(len(all)) {
			errs = append(errs, badToken(token))
		} else {
			start = int(binary.BigEndian.Uint64(position)) //nolint:gosec // at most len(all)
		}
	}
	if len(errs) > 0 {
		return nil, "", errs
	}
	end := min(len(all), start+n)
	if end == len(all) {
		return all[start:end], "", nil
	}
	return all[start:end], writeToken(binary.BigEndian.AppendUint64(nil, uint64(end)), what), nil //nolint:gosec // end is not negative
}

// ReasonBadPageToken is the reason word of a page token that belongs to
// another request or was altered.
const ReasonBadPageToken = "BAD_PAGE_TOKEN" //nolint:gosec // a word, no secret

func badToken(token string) *beltmath.InputError {
	return &beltmath.InputError{
		Field: "PageToken", Value: fmt.Sprintf("%.40q", token), Reason: ReasonBadPageToken,
		Msg: "give next_page_token of the page before, unchanged and with the same request, or leave it out for the first page",
	}
}

const tokenDigestSize = 12

// writeToken makes a page token: a digest over what is asked and the position,
// then the position. It guards against mistakes, not against forgery: a token
// opens nothing that the request itself does not.
func writeToken(position []byte, what string) string {
	return base64.RawURLEncoding.EncodeToString(append(tokenDigest(position, what), position...))
}

func readToken(token, what string) ([]byte, error) {
	raw, err := base64.RawURLEncoding.DecodeString(token)
	if err != nil || len(raw) < tokenDigestSize {
		return nil, badToken(token)
	}
	position := raw[tokenDigestSize:]
	if writeToken(position, what) != token { // decoding passes over line ends, among others
		return nil, badToken(token)
	}
	return position, nil
}

func tokenDigest(position []byte, what string) []byte {
	sum := sha256.Sum256(append(append([]byte(what), 0), position...))
	return sum[:tokenDigestSize]
}
