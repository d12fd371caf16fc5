package load

import (
	"fmt"
	"math"

	"ribdesk/internal/fault"
)

// Spot is a place on the map in degrees.
type Spot struct {
	Lat, Lon float64
}

// earthMiles is the earth's mean radius, 6371.0 km, in statute miles.
const earthMiles = 6371.0 / 1.609344

// Usual values for StraightLine; common practice, no published source.
const (
	UsualDetour = 1.3
	UsualSpeed  = 35.0 // mph, town and highway together
)

// StraightLine gives miles and minutes between places, the shop first, from the
// straight line over the earth times a detour factor at an average speed. It is
// a guess to plan by where nobody typed the true distance. Faults are at
// places.0, detour and speed.
func StraightLine(places []Spot, detour, mph float64) (miles, minutes [][]float64, err error) {
	var bad fault.List
	for i, p := range places {
		if !(math.Abs(p.Lat) <= 90) || !(math.Abs(p.Lon) <= 180) {
			bad.Addf(fmt.Sprintf("places.%d", i), "latitude runs from -90 to 90 and longitude from -180 to 180 degrees")
		}
	}
	if !(detour >= 1 && detour <= 5) {
		bad.Addf("detour", "the detour factor is from 1 to 5")
	}
	if !(mph >= 1 && mph <= 100) {
		bad.Addf("speed", "the average speed is from 1 to 100 mph")
	}
	if bad != nil {
		return nil, nil, bad
	}
	miles, minutes = make([][]float64, len(places)), make([][]float64, len(places))
	for i, a := range places {
		miles[i], minutes[i] = make([]float64, len(places)), make([]float64, len(places))
		for j, b := range places {
			miles[i][j] = a.to(b) * detour
			minutes[i][j] = miles[i][j] / mph * 60
		}
	}
	return miles, minutes, nil
}

// to gives the great-circle distance in miles by the haversine formula.
func (a Spot) to(b Spot) float64 {
	rad := math.Pi / 180
	u, v := math.Sin((b.Lat-a.Lat)*rad/2), math.Sin((b.Lon-a.Lon)*rad/2)
	h := u*u + math.Cos(a.Lat*rad)*math.Cos(b.Lat*rad)*v*v
	return 2 * earthMiles * math.Asin(math.Sqrt(min(1, h)))
}
