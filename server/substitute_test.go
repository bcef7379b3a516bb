package server

import (
	"context"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

func demoStock(t testing.TB) *pb.Stock {
	t.Helper()
	stock := new(pb.Stock)
	for _, row := range readRows(t, "../testdata/demo/parts_bin.csv") {
		item := &pb.StockItem{
			Section: row["section"], ToothCount: int32(number(t, row["tooth_count"])),
			WidthMm: number(t, row["width_mm"]), Quantity: int32(number(t, row["quantity"])),
		}
		if row["kind"] == "belt" {
			stock.Belts = append(stock.Belts, item)
		} else {
			stock.Pulleys = append(stock.Pulleys, item)
		}
	}
	return stock
}

// TestSearchSubstitutes asks for a belt that is sold out by gRPC and REST. The
// numbers are C = 5 mm (belt - pulley)/2 of equal pulleys.
func TestSearchSubstitutes(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	req := &pb.SearchSubstitutesRequest{
		Drive:                   &pb.Drive{Section: "H5M", Driver: &pb.Pulley{ToothCount: 36}, Driven: &pb.Pulley{ToothCount: 36}, BeltToothCount: new(int32(178))},
		DrilledCenterDistanceMm: 355, Stock: demoStock(t), NeededQuantity: new(int32(2)), BeltWidthMm: new(25.0), MaxResults: new(int32(2)),
	}
	resp, err := pb.NewDriveServiceClient(conn).SearchSubstitutes(context.Background(), req)
	require.NoError(t, err)
	require.Len(t, resp.Substitutes, 2)

	same := resp.Substitutes[0]
	assert.Equal(t, int32(32), same.Drive.Driver.ToothCount)
	assert.Equal(t, int32(32), same.Drive.Driven.ToothCount)
	assert.Equal(t, int32(174), same.Drive.GetBeltToothCount())
	assert.True(t, same.SameHoles)
	assert.Equal(t, pb.Verdict_VERDICT_FITS, same.Verdict)

	moved := resp.Substitutes[1]
	assert.Equal(t, int32(180), moved.Drive.GetBeltToothCount())
	assert.Equal(t, pb.Verdict_VERDICT_REJECTED, moved.Verdict)
	assert.InDelta(t, 360, moved.CenterDistanceMm, 0)
	assert.InDelta(t, 5, moved.HoleMoveMm, 0)
	assert.True(t, moved.StandardLength)

	body, err := MarshalJSON(req)
	require.NoError(t, err)
	answer := ask(t, http.MethodPost, baseURL+"/v1/drives:searchSubstitutes", string(body))
	want, err := MarshalJSON(resp)
	require.NoError(t, err)
	assert.JSONEq(t, string(want), answer.body)

	req.Stock.Belts[3].WidthMm = 0
	_, err = pb.NewDriveServiceClient(conn).SearchSubstitutes(context.Background(), req)
	wantRefusal(t, err, "OUT_OF_RANGE", "stock.belts[3].width_mm")
}
