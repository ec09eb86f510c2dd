package payroll

import "slices"

// takeNotes tells of what the records leave open. Notes of the week stand after those of its days.
func (r *reckoning) takeNotes() {
	for i := range r.days {
		d := &r.days[i]
		r.noteRest(d)
		r.noteMeals(d)
		if d.piece > 0 && len(d.Tallies) == 0 {
			r.raise("no_pieces", d, Terms{"minutes": d.piece})
		}
		if d.piece+d.hourly == 0 && len(d.Tallies) > 0 {
			r.raise("no_time", d, Terms{})
		}
	}
	if r.allSevenWorked() {
		r.raise("day_of_rest", nil, Terms{})
	}
	sortNotes(r.statement.Notes)
}

// noteRest tells where less rest was recorded than the day has, and the employer has not said that it was missed.
func (r *reckoning) noteRest(d *workday) {
	if r.rules.RestPeriods == nil || slices.Contains(d.PeriodsNotProvided, MissedRest) {
		return
	}
	var rested Minutes
	for i := range d.stretches {
		if d.stretches[i].entered == Rest {
			rested += d.stretches[i].minutes
		}
	}
	due := Minutes(r.rules.RestPeriods.Due(int(d.worked)) * r.rules.RestPeriods.Minutes)
	if rested < due {
		r.raise("rest_short", d, Terms{"recorded": rested, "due": due, "worked": d.worked})
	}
}

// noteMeals tells of meal periods that are due and not recorded, too short, or too late.
func (r *reckoning) noteMeals(d *workday) {
	if len(r.rules.Meals) == 0 {
		return
	}
	due, long := 0, 0
	meals := d.meals()
	for i := range meals {
		if meals[i].minutes >= Minutes(r.rules.Meals[0].Minutes) {
			long++
		}
	}
	listed := slices.Contains(d.PeriodsNotProvided, MissedMeal)
	for i, code := range []string{"meal_due", "second_meal_due"}[:len(r.rules.Meals)] {
		if !r.mealDue(d, i) {
			continue
		}
		due++
		if long < due && !listed {
			r.raise(code, d, Terms{"worked": d.worked, "length": Minutes(r.rules.Meals[i].Minutes)})
		}
	}
	if long < due {
		r.noteShortMeal(d, meals)
	}
	r.noteLateMeals(d, meals)
}

// mealDue tells whether the day is long enough for its first or second meal period, and it was not lawfully waived.
func (r *reckoning) mealDue(d *workday, i int) bool {
	meal := r.rules.Meals[i]
	if d.worked <= Minutes(meal.DueOver) {
		return false
	}
	firstWaived := slices.Contains(d.MealsWaived, FirstMeal)
	waived := firstWaived
	if i == 1 {
		waived = slices.Contains(d.MealsWaived, SecondMeal) && !firstWaived
	}
	return !waived || d.worked > Minutes(meal.WaivableUpTo)
}

func (r *reckoning) noteShortMeal(d *workday, meals []stretchOfTime) {
	for i := range meals {
		if length := Minutes(r.rules.Meals[0].Minutes); meals[i].minutes < length {
			r.raise("meal_short", d, Terms{"minutes": meals[i].minutes, "length": length})
			return
		}
	}
}

// noteLateMeals looks at clock times only, and only where every meal period of the day has them, so that it is known
// which was the first.
func (r *reckoning) noteLateMeals(d *workday, meals []stretchOfTime) {
	if slices.ContainsFunc(meals, func(s stretchOfTime) bool { return !s.clocked }) {
		return
	}
	for i := range min(len(meals), len(r.rules.Meals)) {
		before := d.workedBefore(meals[i].start)
		if limit := Minutes(r.rules.Meals[i].StartBy); before > limit {
			r.raise("meal_late", d, Terms{"before": before, "limit": limit})
		}
	}
}

// meals are the meal periods of the day, on duty or off, in the order of their clock times.
func (d *workday) meals() []stretchOfTime {
	var meals []stretchOfTime
	for i := range d.stretches {
		if s := d.stretches[i]; s.entered == MealPeriod || s.entered == MealOnDuty {
			meals = append(meals, s)
		}
	}
	slices.SortStableFunc(meals, func(a, b stretchOfTime) int { return int(a.start - b.start) })
	return meals
}

// workedBefore are the minutes worked in entries with clock times that began before an instant.
func (d *workday) workedBefore(start int64) Minutes {
	var before Minutes
	for i := range d.stretches {
		if s := &d.stretches[i]; s.clocked && s.start < start && s.kind != MealPeriod {
			before += s.minutes
		}
	}
	return before
}
