package main

import (
	"fmt"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// readCountsArgument reads an argument that is a set of tooth counts.
func readCountsArgument(name, text string) (*pb.ToothCounts, error) {
	counts, err := readCounts(text)
	if err != nil {
		return nil, &usageError{msg: name + " is " + quoted(text) + ": " + err.Error()}
	}
	return counts, nil
}

// readCounts reads a set of tooth counts, the lesser end of a range first.
func readCounts(text string) (*pb.ToothCounts, error) {
	counts, err := entry.ReadCounts(text)
	if err == nil && counts.Min != nil && counts.GetMin() > counts.GetMax() {
		err = fmt.Errorf("the lesser comes first: give %d..%d", counts.GetMax(), counts.GetMin())
	}
	return counts, err
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

func (f *ratioFlag) Set(text string) (err error) {
	f.low, f.high, err = entry.ReadRatios(text)
	if err == nil && f.low != nil && f.high != nil && *f.low > *f.high {
		err = fmt.Errorf("the lesser comes first: give %v..%v", *f.high, *f.low)
	}
	return err
}
