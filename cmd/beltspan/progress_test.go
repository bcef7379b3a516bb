package main

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// TestProgress: a shorter line leaves nothing of a longer one, and what is told is
// that of this run: 1500 of 2000 drives in 3 s are 500 a second.
func TestProgress(t *testing.T) {
	var out bytes.Buffer
	p := &progress{to: &out, size: 4000, before: 500}
	assert.Equal(t, "2000 drives, 500/s, 75 % of the file", p.text(2000, 3000, 3*time.Second))
	assert.Equal(t, "2000 drives, 500/s, 100 % of the file", p.text(2000, 5000, 3*time.Second))
	p.size = -1
	assert.Equal(t, "0 drives, 0/s", p.text(0, 0, 0))

	p.show(123456, 10)
	p.show(123457, 10) // too soon
	first := strings.Count(out.String(), "drives")
	assert.Equal(t, 1, first)
	width := p.width
	out.Reset()
	p.clear()
	assert.Equal(t, "\r"+strings.Repeat(" ", width)+"\r", out.String())

	startProgress(&out, 10, 0).show(1, 1) // no terminal
	assert.Len(t, out.String(), width+2)
}
