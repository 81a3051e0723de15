package lift

import "stillsaw/procedures/plain"

// Above these nothing here can be meant, so that a number of three decimals whose
// thousandfold is more stands for what it says: 17.375 in is no 17375 in.
const (
	LongestMeant  = 25.0   // m; a thousand inches are more
	DensestMeant  = 2000.0 // kg/m³
	BulkiestMeant = 25.0   // m³; a thousand cubic feet are more
)

// TwoWays is nil unless text, read as x, may have been meant as a thousand times as
// much: taken for a thousandth of what is meant, what hangs on the hook weighs
// nothing. most is what can be meant at all. The error is that of [plain.OneWay].
func TwoWays(text string, x, most float64) error {
	if 1000*x > most {
		return nil
	}
	return plain.OneWay(text)
}
