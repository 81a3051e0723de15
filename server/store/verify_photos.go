package store

import (
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"slices"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// keptPhotos are the digests of a mill's photos whose bytes are others, and
// whether an entry names them. Those that are sound need no room in memory.
type keptPhotos map[string]bool

// photosOf makes the digest of every photo of a mill again, one at a time.
func photosOf(tx *Tx, mill checklists.MillID, gone *dropped) (keptPhotos, error) {
	bad := keptPhotos{}
	query := "SELECT digest, bytes FROM photos WHERE mill = ?"
	if !gone.none {
		query += " AND NOT (dropped > 0 AND length(bytes) = 0)"
	}
	rows, err := tx.gorm().Raw(query, mill).Rows()
	if err != nil {
		return nil, err
	}
	err = eachRow(rows, func() error {
		var digest string
		var bytes []byte
		if err := rows.Scan(&digest, &bytes); err != nil {
			return err
		}
		if sum := sha256.Sum256(bytes); hex.EncodeToString(sum[:]) != digest {
			bad[digest] = false
		}
		return nil
	})
	return bad, err
}

// pictures checks that the photos an entry names are kept as they were.
func (b *besides) pictures(row record.Row, said body) (faults []record.Fault, err error) {
	return b.picturesNamed(row, photosIn(said))
}

func (b *besides) picturesNamed(row record.Row, named []string) (faults []record.Fault, err error) {
	if !slices.ContainsFunc(named, func(digest string) bool { return !b.kept[digest] }) {
		return nil, nil
	}
	var kept []string
	if err := b.tx.gorm().Raw("SELECT digest FROM photos WHERE mill = ? AND digest IN ? AND length(bytes) > 0", b.mill, named).Scan(&kept).Error; err != nil {
		return nil, err
	}
	for _, digest := range kept {
		if _, bad := b.photos[digest]; bad {
			continue
		}
		if b.kept == nil || len(b.kept) >= 1<<12 {
			b.kept = map[string]bool{}
		}
		b.kept[digest] = true
	}
	gone, err := b.dropped.photos(named, entryRowOf(row))
	if err != nil {
		return nil, err
	}
	for _, digest := range named {
		_, bad := b.photos[digest]
		if bad {
			b.photos[digest] = true
		}
		switch {
		case slices.Contains(gone, digest):
		case !slices.Contains(kept, digest):
			faults = append(faults, record.Fault{Change: record.PhotoMissing, Field: digest, What: plain.Say("Entry %d: the photo it names, %s, is not kept.", row.Seq, digest)})
		case bad:
			faults = append(faults, record.Fault{Change: record.PhotoDiffers, Field: digest, What: plain.Say("Entry %d: the photo kept as %s is not the one it names.", row.Seq, digest)})
		}
	}
	return faults, nil
}

// unnamed reports the bad photos that no entry names.
func (p keptPhotos) unnamed(report *record.Report) {
	for _, digest := range slices.Sorted(maps.Keys(p)) {
		if !p[digest] {
			report.Add(record.Fault{Seq: -1, Change: record.PhotoDiffers, Field: digest, What: plain.Say(
				"The photo kept as %s is another one. No entry names it.", digest)})
		}
	}
}

// photosIn are the digests a body names, each once.
func photosIn(b body) []string {
	var all []string
	answers := func(parts []answerPart) {
		for i := range parts {
			all = append(all, parts[i].Photo)
		}
	}
	defects := func(parts ...defectPart) {
		for i := range parts {
			all = append(all, parts[i].Photo, parts[i].MendPhoto)
		}
	}
	devices := func(of []procedures.Device) {
		for i := range of {
			all = append(all, of[i].Photo)
		}
	}
	switch b := b.(type) {
	case *plantBody:
		for i := range b.Plant {
			devices(b.Plant[i].Devices)
		}
	case *publishedBody:
		if p, err := read[procedures.Procedure](string(b.Doc)); b.Sort == Procedures && err == nil {
			devices(p.Devices)
		}
		if l, err := read[checklists.List](string(b.Doc)); b.Sort == Lists && err == nil {
			for _, item := range l.Items {
				all = append(all, item.Picture)
			}
		}
	case *inspectionBody:
		answers(b.Answers)
		defects(b.Defects...)
	case *amendmentBody:
		answers(b.Answers)
		defects(b.Defects...)
	case *asideBody:
		answers(b.Answers)
		defects(b.Defects...)
	case *defectBody:
		defects(b.defectPart)
	case *describedBody:
		defects(b.defectPart)
	case *mendedBody:
		defects(b.defectPart)
	case *returnedBody:
		defects(b.defectPart)
	case *assignedBody:
		defects(b.defectPart)
	case *redatedBody:
		defects(b.defectPart)
	case *notedBody:
		all = append(all, b.Photo)
	case *incidentBody:
		all = append(all, b.Photo)
	case *departureBody:
		all = append(all, b.Photo)
	case *departureClosedBody:
		all = append(all, b.Photo)
	case *gearInspectedBody:
		all = append(all, b.Photo)
	case *lockoutBody:
		all = append(all, b.Event.Photo)
	}
	slices.Sort(all)
	return slices.DeleteFunc(slices.Compact(all), func(digest string) bool { return digest == "" })
}
