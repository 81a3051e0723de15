package demo

import "stillsaw/server/store"

// keepCheckpoint puts a checkpoint by, as the server does in passing.
func (m *mill) keepCheckpoint() {
	m.do("keep a checkpoint", func() error {
		c, err := m.desk.Checkpoint(m.ctx)
		if err != nil {
			return err
		}
		return m.desk.KeepCheckpoint(m.ctx, c, store.KeptInPassing, m.clock)
	})
}
