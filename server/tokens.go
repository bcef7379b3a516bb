package server

import (
	"bytes"
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"strings"
)

// token is one line of a token file. Of the token itself only a digest is
// kept, which also makes all comparisons equally long.
type token struct {
	name string
	sum  [sha256.Size]byte
}

// tokens are those of a token file; several may have one name, so that a new
// one can be handed out before the old one ends.
type tokens []token

const (
	leastTokenLength = 16
	mostTokenLength  = 256
	mostNameLength   = 64
)

// readTokens reads a token file: one `name:token` a line; empty lines and
// those that start with # say nothing. Its errors name lines, never what they
// hold.
func readTokens(contents [][]byte) (tokens, error) {
	var list tokens
	number := 0
	for line := range bytes.Lines(contents[0]) {
		number++
		text := strings.TrimSpace(string(line))
		if text == "" || strings.HasPrefix(text, "#") {
			continue
		}
		name, secret, found := strings.Cut(text, ":")
		if !found || !plainWord(name, 1, mostNameLength) {
			return nil, fmt.Errorf("line %d is not name:token, the name 1 to %d printable characters without space", number, mostNameLength)
		}
		if !plainWord(secret, leastTokenLength, mostTokenLength) {
			return nil, fmt.Errorf("the token in line %d is not %d to %d printable ASCII characters without space: `openssl rand -hex 32` makes one",
				number, leastTokenLength, mostTokenLength)
		}
		list = append(list, token{name, sha256.Sum256([]byte(secret))})
	}
	return list, nil
}

// plainWord tells whether text is least to most printable ASCII characters
// without space.
func plainWord(text string, least, most int) bool {
	if len(text) < least || len(text) > most {
		return false
	}
	return strings.IndexFunc(text, func(r rune) bool { return r <= ' ' || r > '~' }) < 0
}

// find returns the name of a token. The time it takes depends neither on which
// token it is nor on how much of it is right.
func (t tokens) find(secret string) (name string, found bool) {
	sum := sha256.Sum256([]byte(secret))
	at := -1
	for i := range t {
		at = subtle.ConstantTimeSelect(subtle.ConstantTimeCompare(t[i].sum[:], sum[:]), i, at)
	}
	if at < 0 {
		return "", false
	}
	return t[at].name, true
}
