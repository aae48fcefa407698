package session

func (c *Session) OpenClip(name string) error {
	if c.setup.Clip == nil {
		return nil
	}
	clip, err := c.setup.Clip(name)
	if err == nil {
		c.clip = clip
	}
	return notSaved("a clip", err)
}

func (c *Session) CloseClip() (string, error) {
	if c.clip == nil {
		return "", nil
	}
	clip := c.clip
	c.clip = nil
	return clip.Name(), notSaved("a clip", clip.Close())
}

// DropClip forgets an open clip without closing it: later sound belongs to no clip.
func (c *Session) DropClip() { c.clip = nil }
