package schedule

import (
	"io"
	"math"
	"strconv"
	"strings"

	"dunlin/cases"
)

// Point is a place on the Earth in degrees north and east.
type Point struct{ Lat, Lon float64 }

// earthKm is the mean radius R1 of the IUGG in km.
const earthKm = 6371.0088

// Km is the great-circle distance between two points in km (haversine formula).
// It is a straight line and says nothing of the road.
func Km(a, b Point) float64 {
	rad := func(deg float64) float64 { return deg * math.Pi / 180 }
	sLat := math.Sin(rad(b.Lat-a.Lat) / 2)
	sLon := math.Sin(rad(b.Lon-a.Lon) / 2)
	h := sLat*sLat + math.Cos(rad(a.Lat))*math.Cos(rad(b.Lat))*sLon*sLon
	return 2 * earthKm * math.Asin(math.Sqrt(min(1, max(0, h))))
}

// pointFault says why two numbers are no point on the Earth, "" when they are one.
func pointFault(lat, lon float64) string {
	switch {
	case !(lat >= -90 && lat <= 90): // also not a number
		return "the latitude must lie between -90 and 90 degrees"
	case !(lon >= -180 && lon <= 180):
		return "the longitude must lie between -180 and 180 degrees"
	}
	return ""
}

// Centroids gives the middle of each postal-code area. A code that it does not hold
// has no distance, which is never the same as a distance of 0.
type Centroids map[string]Point

// Find looks a postal code up; the longer form 12345-6789 is found by its first part.
func (c Centroids) Find(postal string) (Point, bool) {
	key := postalKey(postal)
	p, ok := c[key]
	if !ok {
		if head, _, cut := strings.Cut(key, "-"); cut {
			p, ok = c[head]
		}
	}
	return p, ok
}

func postalKey(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), "")) }

// ReadCentroids reads a CSV file with the headings postal, lat and lon in any order;
// other columns are left alone. Every row is read: those that cannot be used are named
// in the faults (the first hundred, and how many more), and all others are kept.
func ReadCentroids(r io.Reader) (Centroids, []cases.Fault) {
	t, faults := openTable(r, "postal", "lat", "lon")
	if t == nil {
		return nil, faults
	}
	out := Centroids{}
	for t.next() {
		key := postalKey(t.cell("postal"))
		lat, err1 := strconv.ParseFloat(t.cell("lat"), 64)
		lon, err2 := strconv.ParseFloat(t.cell("lon"), 64)
		_, twice := out[key]
		switch {
		case key == "":
			t.bad("postal", "is needed")
		case twice:
			t.bad("postal", "%s comes twice; the first is kept", key)
		case err1 != nil:
			t.bad("lat", "must be degrees like 44.98, not %q", t.cell("lat"))
		case err2 != nil:
			t.bad("lon", "must be degrees like -93.26, not %q", t.cell("lon"))
		default:
			if why := pointFault(lat, lon); why != "" {
				t.bad("lat", "%s", why)
				continue
			}
			out[key] = Point{lat, lon}
		}
	}
	return out, t.found()
}
