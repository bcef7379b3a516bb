package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// checkpoint is where a run stands: which rows of which file are judged, and
// how long the files are that hold their results. Everything behind is
// repeated by the run that resumes it.
type checkpoint struct {
	Settings string           `json:"settings"` // what the results depend on, beside the file
	Input    string           `json:"input"`    // digest of the rows judged
	Rows     int              `json:"rows"`
	Verdicts verdicts         `json:"verdicts"`
	Bytes    map[string]int64 `json:"bytes"` // by path of the part file
}

// verdicts counts results.
type verdicts struct {
	Fits     int64 `json:"fits"`
	Marginal int64 `json:"marginal"`
	Rejected int64 `json:"rejected"`
	Invalid  int64 `json:"invalid"`
}

func (v *verdicts) add(verdict pb.Verdict) {
	switch verdict {
	case pb.Verdict_VERDICT_FITS:
		v.Fits++
	case pb.Verdict_VERDICT_MARGINAL:
		v.Marginal++
	case pb.Verdict_VERDICT_REJECTED:
		v.Rejected++
	default:
		v.Invalid++
	}
}

func (v verdicts) total() int64 { return v.Fits + v.Marginal + v.Rejected + v.Invalid }

// failing counts the results at or beyond a verdict.
func (v verdicts) failing(from pb.Verdict) int64 {
	n := v.Rejected + v.Invalid
	if from == pb.Verdict_VERDICT_MARGINAL {
		n += v.Marginal
	}
	return n
}

func (v verdicts) String() string {
	drives := "drives"
	if v.total() == 1 {
		drives = "drive"
	}
	return fmt.Sprintf("%d %s: %d fit, %d marginal, %d rejected, %d invalid", v.total(), drives, v.Fits, v.Marginal, v.Rejected, v.Invalid)
}

// readCheckpoint returns where the run at path stopped; nothing where there is
// none, where it was finished but for the last rename, or where it knows a part
// file by another name.
func readCheckpoint(path, settings string, parts []string) (checkpoint, error) {
	raw, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return checkpoint{}, nil
	}
	var c checkpoint
	if err == nil {
		err = json.Unmarshal(raw, &c)
	}
	if err == nil && !c.plausible() {
		err = errors.New("its numbers contradict each other")
	}
	if err != nil {
		return checkpoint{}, &failure{fmt.Errorf("what is left of the earlier run cannot be read: %w", err), "without --resume the run starts anew"}
	}
	if c.Settings != settings {
		return checkpoint{}, &failure{
			errors.New("the run to resume had other limits, forms or files of results"),
			"give the flags of that run, or start anew without --resume",
		}
	}
	for _, part := range parts {
		size, known := c.Bytes[part]
		if info, err := os.Stat(part); err != nil || !known || info.Size() < size {
			return checkpoint{}, nil
		}
	}
	return c, nil
}

// plausible tells whether c may be what write wrote.
func (c *checkpoint) plausible() bool {
	v := c.Verdicts
	counts := append(slices.Collect(maps.Values(c.Bytes)), v.Fits, v.Marginal, v.Rejected, v.Invalid)
	return slices.Min(counts) >= 0 && v.total() == int64(c.Rows)
}

// write puts the checkpoint in the place of the one before, whole or not at
// all.
func (c *checkpoint) write(path string) error {
	raw, err := json.Marshal(c)
	if err != nil {
		return err
	}
	next := path + ".next"
	file, err := os.Create(next)
	if err != nil {
		return err
	}
	_, err = file.Write(raw)
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return err
	}
	return os.Rename(next, path)
}
