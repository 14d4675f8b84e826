package auth

import "context"

// maxBrief bounds the sessions that have something in memory.
const maxBrief = 10_000

// Keep remembers a text for this session in memory: a notice for the next page,
// what was last searched. It is lost at a restart and costs no write.
func (g *Guard) Keep(ctx context.Context, key, text string) {
	session := g.Token(ctx)
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.brief[session] == nil {
		if len(g.brief) >= maxBrief {
			clear(g.brief)
		}
		g.brief[session] = map[string]string{}
	}
	g.brief[session][key] = text
}

// Kept is a text that was kept for this session; "" for none.
func (g *Guard) Kept(ctx context.Context, key string) string {
	session := g.Token(ctx)
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.brief[session][key]
}

// Take is Kept, and forgets the text.
func (g *Guard) Take(ctx context.Context, key string) string {
	session := g.Token(ctx)
	g.mu.Lock()
	defer g.mu.Unlock()
	text := g.brief[session][key]
	delete(g.brief[session], key)
	return text
}
