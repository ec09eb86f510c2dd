package main

import (
	"context"
	"fmt"
	"time"

	"palmero/models"
	"palmero/models/evidence"
)

const verifyHelp = `Usage: palmero verify [EMPLOYER] [--head HASH] [SETTINGS]

Proves that the audit entries, one for every command that was ever given, stand as they were written: each against its own
hash, and all against the chain of seals that the server puts over them as time goes by. It names the first break of each
employer, or of the one that is named, tells how many entries no seal covers yet, and prints the head of the chain. Its
exit status is 1 where anything is broken.

  --head HASH  also look for this head of a chain, as it was printed on a pay list: whoever makes a chain anew,
               to the last seal, cannot make it pass through a head that is on paper

It only reads, and may run while the server does.
`

func runVerify(ctx context.Context, args []string, c console) int {
	return recordsCommand{name: "verify", help: verifyHelp, of: byRecords, names: []string{"EMPLOYER"}, options: []string{"head"}, run: verify}.execute(ctx, args, c)
}

func verify(ctx context.Context, o *recordsOrder) error {
	employers, err := o.employers(ctx)
	if err != nil {
		return err
	}
	wanted, asked := o.flags["head"]
	broken, stands := false, false
	for _, e := range employers {
		var report *evidence.Report
		err := o.view(ctx, e, func(tx *models.Tx) (err error) {
			if report, err = evidence.Verify(tx); err != nil || !asked {
				return err
			}
			number, err := evidence.FindSeal(tx, wanted)
			if number > 0 && number <= report.Seals {
				stands = true
				o.say("%s: the head %s stands as seal %d", e.SignInName, wanted, number)
			}
			return err
		})
		if err != nil {
			return fmt.Errorf("%s: %w", e.SignInName, err)
		}
		o.tell(e, report)
		broken = broken || report.Break != nil
	}
	if asked && !stands {
		o.say("No chain that holds passes through the head %s.", wanted)
		broken = true
	}
	if broken {
		return errTold
	}
	return nil
}

// tell prints what was found of one employer.
func (o *recordsOrder) tell(e models.Employer, r *evidence.Report) {
	if r.Break != nil {
		o.say("%s: BROKEN: %s", e.SignInName, breakInWords(r.Break))
		o.say("  what comes before stands: %s under %s", counted(r.Sealed, "entry", "entries"), counted(r.Seals, "seal", "seals"))
	} else {
		o.say("%s: %s under %s, all as sealed", e.SignInName, counted(r.Sealed, "entry", "entries"), counted(r.Seals, "seal", "seals"))
	}
	if r.Head != nil {
		o.say("  seal %d of %s: %s", r.Head.Number, r.Head.SealedAt.UTC().Format(time.DateTime+" UTC"), r.Head.Hash)
	}
	if r.Tail > 0 {
		o.say("  not sealed yet: %s since %s, each as it was written", counted(r.Tail, "entry", "entries"), r.Since.UTC().Format(time.DateTime+" UTC"))
	}
}

// breakInWords says what is wrong, and where.
func breakInWords(b *evidence.Break) string {
	switch b.Kind {
	case evidence.AlteredEntry:
		where := fmt.Sprintf("under seal %d", b.Seal)
		if b.Seal == 0 {
			where = "not sealed yet"
		}
		return fmt.Sprintf("the entry %s, %s, does not say any more what it said when it was written", b.Entry, where)
	case evidence.MissingEntries, evidence.SurplusEntries:
		return fmt.Sprintf("seal %d covers %s, and there are %d", b.Seal, counted(b.Expected, "entry", "entries"), b.Found)
	case evidence.MissingSeal:
		return fmt.Sprintf("seal %d is gone", b.Seal)
	case evidence.ForeignSeal:
		return fmt.Sprintf("seal %d does not follow from seal %d", b.Seal, b.Seal-1)
	case evidence.AlteredSeal:
		return fmt.Sprintf("seal %d, or the entries under it, are not what was sealed", b.Seal)
	}
	return string(b.Kind)
}

func counted(n int64, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
