package server

import (
	"context"
	"encoding/json"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

func TestListBeltLengthsPages(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	client := pb.NewSectionServiceClient(conn)
	whole, err := client.ListBeltLengths(context.Background(), &pb.ListBeltLengthsRequest{Section: "H5M"})
	require.NoError(t, err)
	require.Empty(t, whole.NextPageToken)
	assert.Len(t, whole.BeltLengths, 49) // rows of H5M in testdata/tables/standard_lengths.csv

	var joined []*pb.BeltLength
	token := ""
	for pages := 1; ; pages++ {
		page, err := client.ListBeltLengths(context.Background(), &pb.ListBeltLengthsRequest{
			Section: "H5M", PageSize: new(int32(10)), PageToken: token,
		})
		require.NoError(t, err)
		joined = append(joined, page.BeltLengths...)
		if token = page.NextPageToken; token == "" {
			assert.Equal(t, 5, pages)
			break
		}
	}
	require.Len(t, joined, len(whole.BeltLengths))
	for i, b := range joined {
		assert.Equal(t, whole.BeltLengths[i].Designation, b.Designation)
	}

	overREST := ask(t, http.MethodGet, baseURL+"/v1/sections/H5M/beltLengths", "")
	direct, err := MarshalJSON(whole)
	require.NoError(t, err)
	assert.JSONEq(t, string(direct), overREST.body)
}

func TestListBeltLengthsRefusesTokens(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewSectionServiceClient(conn)
	page, err := client.ListBeltLengths(context.Background(), &pb.ListBeltLengthsRequest{Section: "H5M", PageSize: new(int32(10))})
	require.NoError(t, err)
	good := page.NextPageToken
	altered := []byte(good)
	altered[len(altered)-1] ^= 1
	tests := map[string]*pb.ListBeltLengthsRequest{
		"of another section": {Section: "H8M", PageToken: good},
		"altered":            {Section: "H5M", PageToken: string(altered)},
		"cut":                {Section: "H5M", PageToken: good[:8]},
		"no token":           {Section: "H5M", PageToken: "next, please"},
	}
	for name, request := range tests {
		_, err := client.ListBeltLengths(context.Background(), request)
		assert.Equal(t, codes.InvalidArgument, status.Code(err), name)
		assert.ErrorContains(t, err, "page_token", name)
	}
	for _, size := range []int32{0, -1, 1001} {
		_, err := client.ListSections(context.Background(), &pb.ListSectionsRequest{PageSize: &size})
		assert.ErrorContains(t, err, "1 to 1000", "page_size %d", size)
	}
}

func TestGetSection(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	client := pb.NewSectionServiceClient(conn)
	got, err := client.GetSection(context.Background(), &pb.GetSectionRequest{Section: "H8M"})
	require.NoError(t, err)
	// testdata/tables/sections.csv: pitch seen in S7, S10 and S21; heights and
	// widths in two sources each.
	assert.InDelta(t, 8, got.Section.PitchMm.GetValue(), 0)
	assert.True(t, got.Section.PitchMm.Verified)
	assert.InDelta(t, 0.686, got.Section.PitchLineDifferentialMm.GetValue(), 0)
	assert.InDelta(t, 792, got.Section.Rating.WorkingTensionN.GetValue(), 0)
	assert.False(t, got.Section.Rating.WorkingTensionN.Verified) // one source
	assert.Nil(t, got.Section.Rating.MassKgPerM.Value)           // not held
	direct, err := MarshalJSON(got)
	require.NoError(t, err)
	assert.JSONEq(t, string(direct), ask(t, http.MethodGet, baseURL+"/v1/sections/H8M", "").body)

	missing := ask(t, http.MethodGet, baseURL+"/v1/sections/H9M", "")
	assert.Equal(t, http.StatusNotFound, missing.status)
	var body struct {
		Code    codes.Code
		Message string
	}
	require.NoError(t, json.Unmarshal([]byte(missing.body), &body))
	assert.Equal(t, codes.NotFound, body.Code)
	assert.Contains(t, body.Message, "H8M")
}

func TestProtoPath(t *testing.T) {
	for path, want := range map[string]string{
		"Drive.Driver.ToothCount":        "drive.driver.tooth_count",
		"Driver.FlangeDiameterMM":        "driver.flange_diameter_mm",
		"PitchMM":                        "pitch_mm",
		"Items[3].Drive.BeltDesignation": "items[3].drive.belt_designation",
		"TorqueNM":                       "torque_nm",
	} {
		assert.Equal(t, want, protoPath(path))
	}
}
