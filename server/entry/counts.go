package entry

import (
	"errors"
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

const countsAdvice = "give tooth counts such as 36, 32..40, 32..40/2 or 32,36,40"

// ReadCounts reads a set of tooth counts: 36, a range 32..40, a range with a
// step 32..40/2, or a list 32,36,40. Their bounds are for the service to
// judge.
func ReadCounts(text string) (*pb.ToothCounts, error) {
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

// ReadRatios reads a range of speed ratios, driven teeth over driver teeth:
// 1..2, 1.5 alone, ..2 or 1.. with no bound where none is written. Their bounds
// are for the service to judge.
func ReadRatios(text string) (low, high *float64, err error) {
	from, to, isRange := strings.Cut(text, "..")
	if !isRange {
		to = from
	}
	low, ok1 := optionalNumber(from)
	high, ok2 := optionalNumber(to)
	if !ok1 || !ok2 || low == nil && high == nil {
		return nil, nil, errors.New("give driven teeth over driver teeth, such as 0.5.., ..2, 1.5 or 1..2")
	}
	return low, high, nil
}

func optionalNumber(text string) (*float64, bool) {
	if text == "" {
		return nil, true
	}
	v, ok := ReadNumber(text)
	return &v, ok
}
