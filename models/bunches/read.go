package bunches

import (
	"github.com/google/uuid"

	"palmero/models"
)

// Told is a bunch check with the standard that it was looked at by, and what it found of each of its points.
type Told struct {
	models.BunchCheck
	Standard *models.WorkStandard
	Points   []PointTold
}

// PointTold is a point with what was found of it.
type PointTold struct {
	Asked *models.StandardPoint
	models.PointCount
}

// Tell puts bunch checks beside their standards, which takes one statement.
func Tell(tx *models.Tx, checks []models.BunchCheck) ([]Told, error) {
	ids := make([]uuid.UUID, len(checks))
	for i := range checks {
		ids[i] = checks[i].Content.StandardID
	}
	var standards []models.WorkStandard
	if err := tx.DB().Scopes(tx.Among("id", ids)).Find(&standards).Error; err != nil {
		return nil, err
	}
	byID := models.RecordedByID(standards)
	told := make([]Told, len(checks))
	for i := range checks {
		told[i] = tell(&checks[i], byID[checks[i].Content.StandardID])
	}
	return told, nil
}

func tell(check *models.BunchCheck, standard *models.WorkStandard) Told {
	t := Told{BunchCheck: *check, Standard: standard}
	points := standard.Content.Points
	for i, count := range JudgeAll(points, check.Content.Bunches).Points {
		t.Points = append(t.Points, PointTold{&points[i], count})
	}
	return t
}

// OfWorker keeps the bunch checks of a worker's own bunches, those noted while the worker was known by name alone too.
func OfWorker(employer, worker uuid.UUID) models.Condition { return models.OfPerson(employer, worker) }

// Latest returns the last bunch checks that stand and that the conditions keep, the latest first.
func Latest(tx *models.Tx, limit int, conditions ...models.Condition) (checks []models.BunchCheck, err error) {
	err = tx.DB().Scopes(conditions...).Scopes(models.Standing(true)).Order("workday DESC, seq DESC").Limit(limit).Find(&checks).Error
	return checks, err
}
