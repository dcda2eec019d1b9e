package fleet

import (
	"sync"
	"time"
)

// zones are the time zones that were asked for: reading one takes longer than all else on many a page.
var zones sync.Map // name → *time.Location

// Zone gives the time zone of an IANA name, such as a site's; an error where there is none of that name.
func Zone(name string) (*time.Location, error) {
	if known, ok := zones.Load(name); ok {
		return known.(*time.Location), nil
	}
	zone, err := time.LoadLocation(name)
	if err == nil {
		zones.Store(name, zone)
	}
	return zone, err
}
