package main

import (
	"errors"
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

const countsAdvice = "give tooth counts such as 36, 32..40, 32..40/2 or 32,36,40"

// readCounts reads a set of tooth counts: 36, a range 32..40, a range with a
// step 32..40/2, or a list 32,36,40. Their bounds are for the service to
// judge.
func readCounts(text string) (*pb.ToothCounts, error) {
	low, rest, isRange := strings.Cut(text, "..")
	if !isRange {
		return readCountList(text)
	}
	high, step, stepped := strings.Cut(rest, "/")
	first, ok1 := teeth(low)
	last, ok2 := teeth(high)
	if !ok1 || !ok2 {
		return nil, errors.New(countsAdvice)
	}
	counts := &pb.ToothCounts{Min: &first, Max: &last}
	if stepped {
		n, ok := teeth(step)
		if !ok {
			return nil, errors.New(countsAdvice)
		}
		counts.Step = &n
	}
	return counts, nil
}

func readCountList(text string) (*pb.ToothCounts, error) {
	counts := &pb.ToothCounts{}
	for part := range strings.SplitSeq(text, ",") {
		n, ok := teeth(part)
		if !ok {
			return nil, errors.New(countsAdvice)
		}
		counts.Values = append(counts.Values, n)
	}
	return counts, nil
}

func teeth(text string) (int32, bool) {
	n, err := strconv.ParseInt(strings.TrimSpace(text), 10, 32)
	return int32(n), err == nil
}

// readCountsArgument reads an argument that is a set of tooth counts.
func readCountsArgument(name, text string) (*pb.ToothCounts, error) {
	counts, err := readCounts(text)
	if err != nil {
		return nil, &usageError{msg: name + " is " + quoted(text) + ": " + err.Error()}
	}
	return counts, nil
}

// countsFlag is a flag that takes a set of tooth counts; nil where it was not
// given.
type countsFlag struct{ counts *pb.ToothCounts }

func (f *countsFlag) String() string { return "" }
func (f *countsFlag) Type() string   { return "TEETH" }

func (f *countsFlag) Set(text string) (err error) {
	f.counts, err = readCounts(text)
	return err
}

// countNames are the words of a set of tooth counts in a request.
func countNames(path, word string) fieldNames {
	names := fieldNames{path: word}
	for _, field := range []string{"values", "min", "max", "step"} {
		names[path+"."+field] = word
	}
	return names
}

// ratioFlag is a flag that takes a range of speed ratios: 1..2, 1.5 alone, ..2
// or 1.. .
type ratioFlag struct{ low, high *float64 }

func (f *ratioFlag) String() string { return "" }
func (f *ratioFlag) Type() string   { return "RATIOS" }

func (f *ratioFlag) Set(text string) error {
	low, high, isRange := strings.Cut(text, "..")
	if !isRange {
		high = low
	}
	var ok1, ok2 bool
	f.low, ok1 = optionalNumber(low)
	f.high, ok2 = optionalNumber(high)
	if !ok1 || !ok2 || f.low == nil && f.high == nil {
		return errors.New("give driven teeth over driver teeth, such as 0.5.., ..2, 1.5 or 1..2")
	}
	return nil
}

func optionalNumber(text string) (*float64, bool) {
	if text == "" {
		return nil, true
	}
	v, ok := readCellNumber(text)
	return &v, ok
}
