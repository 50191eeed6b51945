package rulehost

import (
	"container/list"
	"sync"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// question is what an answer depends on, and nothing else. Equal temperatures count
// as equal, whichever series holds them.
type question struct {
	digest string // of the table
	build  string // SHA-256 of the plugin: the table does not say how it computes
	row    string
	on     civil.Date
	site   rules.SiteFacts // without temperatures
	series [32]byte        // SHA-256 of the temperatures; zero for none
}

// cache keeps the answers that were asked for last. Failures are not among them. Its
// methods may be called from several goroutines.
type cache struct {
	mu     sync.Mutex
	most   int
	recent *list.List // of *kept, the most recent first
	at     map[question]*list.Element
}

type kept struct {
	question question
	answer   rules.Answer
}

func newCache(most int) *cache {
	return &cache{most: most, recent: list.New(), at: map[question]*list.Element{}}
}

// find fills in the answers that are known, and gives the places of the others.
func (c *cache) find(questions []question, answers []rules.Answer, places []int) (unknown []int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, i := range places {
		e := c.at[questions[i]]
		if e == nil {
			unknown = append(unknown, i)
			continue
		}
		c.recent.MoveToFront(e)
		answers[i] = e.Value.(*kept).answer
	}
	return unknown
}

// add keeps an answer, in the place of the one that was not asked for the longest.
func (c *cache) add(q question, a rules.Answer) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if e := c.at[q]; e != nil {
		c.recent.MoveToFront(e)
		return
	}
	if c.recent.Len() >= c.most {
		oldest := c.recent.Back()
		delete(c.at, oldest.Value.(*kept).question)
		c.recent.Remove(oldest)
	}
	c.at[q] = c.recent.PushFront(&kept{q, a})
}
