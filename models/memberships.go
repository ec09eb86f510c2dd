package models

import (
	"slices"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/payroll"
)

// Joining puts workers into a crew from a day on.
type Joining struct {
	CrewID   uuid.UUID
	Workers  []uuid.UUID
	FromDate Date
	Leads    bool // whether they lead the crew
	Moves    bool // whether they leave the other crews that they are in then, the day before
}

// Join keeps the memberships of a joining, whose author made the identifier; theirs follow from it, so that the same joining sent twice is kept once: true, where
// it was kept before.
func Join(tx *Tx, id uuid.UUID, j Joining) (bool, error) {
	members := j.members(tx, id)
	fresh, err := unkept(tx, members)
	if err != nil || len(fresh) == 0 && len(members) > 0 {
		return true, err
	}
	if err := j.check(tx, fresh); err != nil {
		return false, err
	}
	var left []CrewMember
	if j.Moves {
		if left, err = endMemberships(tx, Day(j.FromDate.AddDays(-1)), tx.Among("worker_id", j.Workers), Where("crew_id <> ?", j.CrewID)); err != nil {
			return false, err
		}
	}
	if err := InsertAll(tx, fresh); err != nil {
		return false, err
	}
	after := map[string]any{"joined": fresh, "left": left}
	return false, tx.Audit(Audit{Action: "join", SubjectKind: "crews", SubjectID: j.CrewID, After: after})
}

// members are the memberships of a joining, each worker's once.
func (j *Joining) members(tx *Tx, id uuid.UUID) []CrewMember {
	var members []CrewMember
	for _, w := range j.Workers {
		c := CrewMemberContent{CrewID: j.CrewID, WorkerID: w, Leads: j.Leads, FromDate: j.FromDate}
		m := CrewMember{Keyed: Keyed{ID: uuid.NewSHA1(id, w[:]), ContentHash: ContentHash(c)}, CreatedAt: tx.Now, UpdatedAt: tx.Now, Version: 1, Content: c}
		if !slices.ContainsFunc(members, func(b CrewMember) bool { return b.ID == m.ID }) {
			members = append(members, m)
		}
	}
	return members
}

// unkept are those of some memberships that are not kept yet; one that is kept under the same identifier and says something else is a conflict.
func unkept(tx *Tx, members []CrewMember) ([]CrewMember, error) {
	ids := make([]uuid.UUID, len(members))
	for i := range members {
		ids[i] = members[i].ID
	}
	var rows []CrewMember
	if err := tx.DB().Scopes(tx.Among("id", ids)).Find(&rows).Error; err != nil {
		return nil, translate(err)
	}
	kept := KeptByID(rows)
	var fresh []CrewMember
	for _, m := range members {
		if k := kept[m.ID]; k == nil {
			fresh = append(fresh, m)
		} else if err := sameContent(k.ContentHash, m.ContentHash); err != nil {
			return nil, err
		}
	}
	return fresh, nil
}

// check wants a crew, a plausible day and workers who are on the books and not in the crew at any time from that day on.
func (j *Joining) check(tx *Tx, fresh []CrewMember) error {
	c := NewChecker(tx)
	c.Reference("/crew_id", "crews", j.CrewID)
	c.Planned("/from_date", j.FromDate.Date)
	if len(fresh) == 0 {
		c.Fault("/workers", "fault.nobody_to_join", nil)
	}
	missing, err := tx.Missing("workers", j.Workers)
	if err != nil {
		return err
	}
	if len(missing) > 0 {
		c.Fault("/workers", "fault.unknown_reference", nil)
	}
	names, err := tx.workersWho(Where("id IN (SELECT worker_id FROM crew_members WHERE employer_id = ? AND crew_id = ? AND (through_date IS NULL OR through_date >= ?))",
		tx.Employer, j.CrewID, j.FromDate), j.Workers)
	if err != nil {
		return err
	}
	if len(names) > 0 {
		c.Fault("/workers", "fault.in_crew_already", payroll.Terms{"names": names})
	}
	if names, err = tx.workersWho(Where("(same_as IS NOT NULL OR ended_on < ?)", j.FromDate), j.Workers); err != nil {
		return err
	}
	if len(names) > 0 {
		c.Fault("/workers", "fault.left_already", payroll.Terms{"names": names})
	}
	faults, err := c.Done()
	if err == nil {
		err = Faulty(faults)
	}
	return err
}

// workersWho are the names of those of some workers whom a condition keeps, by their numbers.
func (t *Tx) workersWho(which Condition, ids []uuid.UUID) (names []string, err error) {
	err = t.DB().Model(&Worker{}).Scopes(t.Among("id", ids), which).Order("number").Pluck("name", &names).Error
	return names, translate(err)
}

// Part ends the memberships of workers in a crew with a day. Whoever has left by then, or joined later, stays as they are; said twice it changes nothing more.
func Part(tx *Tx, crew uuid.UUID, workers []uuid.UUID, last Date) error {
	c := NewChecker(tx)
	c.Planned("/last_day", last.Date)
	if len(workers) == 0 {
		c.Fault("/leaving", "fault.nobody_to_join", nil)
	}
	faults, err := c.Done()
	if err == nil {
		err = Faulty(faults)
	}
	if err != nil {
		return err
	}
	left, err := endMemberships(tx, last, tx.Among("worker_id", workers), Equal("crew_id", crew))
	if err != nil || len(left) == 0 {
		return err
	}
	return tx.Audit(Audit{Action: "part", SubjectKind: "crews", SubjectID: crew, Before: left, After: map[string]any{"through_date": last}})
}

// PartFromAll ends all memberships of a worker, whose employment ends, with a day.
func PartFromAll(tx *Tx, worker uuid.UUID, last Date) error {
	left, err := endMemberships(tx, last, Equal("worker_id", worker))
	if err != nil || len(left) == 0 {
		return err
	}
	return tx.Audit(Audit{Action: "part", SubjectKind: "workers", SubjectID: worker, Before: left, After: map[string]any{"through_date": last}})
}

// endMemberships ends those of some memberships that began by a day and go on after it, and returns them as they were.
func endMemberships(tx *Tx, last Date, which ...Condition) ([]CrewMember, error) {
	which = append(which, Where("from_date <= ? AND (through_date IS NULL OR through_date > ?)", last, last))
	var going []CrewMember
	if err := tx.Locking().Scopes(which...).Order("seq").Find(&going).Error; err != nil || len(going) == 0 {
		return nil, translate(err)
	}
	ids := make([]uuid.UUID, len(going))
	for i := range going {
		ids[i] = going[i].ID
	}
	change := map[string]any{"through_date": last, "version": gorm.Expr("version + 1"), "updated_at": tx.Now}
	return going, translate(tx.DB().Model(&CrewMember{}).Scopes(tx.Among("id", ids)).Updates(change).Error)
}
