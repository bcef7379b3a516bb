package server

import (
	"context"
	"math"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// rates limit the calls of each caller. Callers who have been away are
// forgotten, at most that much later than they have their full burst again.
type rates struct {
	limit rate.Limit
	burst int

	mu         sync.Mutex
	young, old map[string]*rate.Limiter
	turned     time.Time // when old was young
}

// dearCost is how many cheap calls a dear one counts for.
const dearCost = 10

// newRates allows perSecond calls a second and twice as many at once; nil,
// which allows all, for 0.
func newRates(perSecond float64) *rates {
	if perSecond == 0 {
		return nil
	}
	return &rates{
		limit: rate.Limit(perSecond), burst: max(dearCost, int(math.Ceil(2*perSecond))),
		young: map[string]*rate.Limiter{}, turned: time.Now(),
	}
}

// take counts a call; its error is a status that says how long to wait.
func (r *rates) take(ctx context.Context, dear bool) error {
	if r == nil {
		return nil
	}
	cost, now := 1, time.Now()
	if dear {
		cost = dearCost
	}
	reservation := r.of(callerID(ctx), now).ReserveN(now, cost)
	wait := reservation.DelayFrom(now)
	if wait == 0 {
		return nil
	}
	reservation.CancelAt(now)
	return errTooFast(float64(r.limit), wait)
}

// of returns the limiter of a caller.
func (r *rates) of(caller string, now time.Time) *rate.Limiter {
	const most = 10_000
	r.mu.Lock()
	defer r.mu.Unlock()
	full := time.Duration(float64(r.burst) / float64(r.limit) * float64(time.Second))
	if now.Sub(r.turned) > max(full, time.Second) || len(r.young) >= most {
		r.old, r.young, r.turned = r.young, map[string]*rate.Limiter{}, now
	}
	if limiter := r.young[caller]; limiter != nil {
		return limiter
	}
	limiter := r.old[caller]
	if limiter == nil {
		limiter = rate.NewLimiter(r.limit, r.burst)
	}
	r.young[caller] = limiter
	return limiter
}
