package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/access"
)

const accountHelp = `Usage: palmero account employer NAME --legal-name TEXT --address TEXT --size N [MORE] [SETTINGS]
       palmero account code EMPLOYER ACCOUNT [SETTINGS]
       palmero account suspend EMPLOYER ACCOUNT [SETTINGS]
       palmero account restore EMPLOYER ACCOUNT [SETTINGS]
       palmero account list [EMPLOYER] [SETTINGS]

Does what has to be done before anyone can sign in, or when nobody can any more.

  employer   enters an employer, with its first administrator, whose code for the first sign-in it prints
  code       prints a new code for an account; its earlier codes are void. With the code, the account's owner
             signs in and sets a new secret
  suspend    ends an account's sessions and lets it sign in no more, until it is restored
  restore    lets a suspended account sign in again
  list       lists the employers, or the accounts of one

NAME, EMPLOYER and ACCOUNT are the names that people sign in with: small letters, digits, points, hyphens.

For employer:

  --legal-name TEXT         as wage statements name it
  --address TEXT            as wage statements show it
  --size N                  head count, for rules that depend on it
  --tax-number TEXT         the federal employer identification number
  --insurance-carrier TEXT  who insures its people at work
  --week-start DAY          first day of the workweek (default sunday)
  --workday-start HH:MM     when a workday begins (default 00:00)
  --payday DAY              (default friday)
  --one-office              pay needs no second person's approval
  --administrator NAME      what the administrator signs in as (default admin)
  --administrator-name TEXT the administrator's own name (default Administrator)
  --language en|es          the administrator's language (default en)

Example:

  palmero account employer tres-pozos --legal-name "Huerta Tres Pozos LLC" --address "88 Canal Road, Mesa Verde" --size 40
`

// accountCommand is one of the subcommands of account: the names that it takes, and what it does with them.
type accountCommand struct {
	names   []string // what its arguments are; the last may be left out where optional
	options []string // flags of its own
	run     func(ctx context.Context, o *accountOrder) error

	optional bool
}

var accountCommands = map[string]accountCommand{
	"employer": {names: []string{"NAME"}, options: employerOptions, run: foundEmployer},
	"code":     {names: []string{"EMPLOYER", "ACCOUNT"}, run: printCode},
	"suspend":  {names: []string{"EMPLOYER", "ACCOUNT"}, run: suspendAccount},
	"restore":  {names: []string{"EMPLOYER", "ACCOUNT"}, run: restoreAccount},
	"list":     {names: []string{"EMPLOYER"}, optional: true, run: listAccounts},
}

var employerOptions = []string{
	"legal-name", "address", "size", "tax-number", "insurance-carrier", "week-start", "workday-start", "payday", "one-office",
	"administrator", "administrator-name", "language",
}

// accountOrder is what was asked for on the command line.
type accountOrder struct {
	store *models.Store
	gate  *access.Gate
	out   io.Writer
	names []string
	flags map[string]string
}

// misused is a mistake on the command line.
type misused struct{ error }

func runAccount(ctx context.Context, args []string, c console) int {
	order, command, rest, err := parseAccount(args)
	r := readSettings("account", byAccount, rest, c.environ)
	if status, ok := r.settle("account", accountHelp, byAccount, c); !ok {
		return status
	}
	if err == nil {
		order.out = c.out
		err = order.execute(ctx, command, r.settings)
	}
	if err == nil {
		return done
	}
	fmt.Fprintf(c.err, "palmero account: %s\n", inWords(err))
	if errors.As(err, new(misused)) {
		fmt.Fprintln(c.err, "\"palmero help account\" tells how.")
		return misuse
	}
	return failed
}

// execute opens the database, as the server does, and runs the subcommand.
func (o *accountOrder) execute(ctx context.Context, command accountCommand, s settings) (err error) {
	if o.store, err = models.Open(ctx, s.database, models.Options{}); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.store.Close()) }()
	o.gate = access.New(o.store, access.Options{})
	return command.run(ctx, o)
}

// parseAccount takes the subcommand, its names and its own flags out of args; the rest are settings.
func parseAccount(args []string) (*accountOrder, accountCommand, []string, error) {
	o := &accountOrder{flags: map[string]string{}}
	if len(args) == 0 || strings.HasPrefix(args[0], "-") {
		return o, accountCommand{}, args, misused{errors.New("say what to do: employer, code, suspend, restore or list")}
	}
	command, ok := accountCommands[args[0]]
	if !ok {
		return o, command, nil, misused{fmt.Errorf("there is nothing called %q; there are employer, code, suspend, restore and list", args[0])}
	}
	rest := args[1:]
	for len(rest) > 0 && !strings.HasPrefix(rest[0], "-") && len(o.names) < len(command.names) {
		o.names, rest = append(o.names, rest[0]), rest[1:]
	}
	rest, err := o.takeFlags(command, rest)
	if missing := command.names[len(o.names):]; len(missing) > 0 && !command.optional {
		err = errors.Join(misused{fmt.Errorf("%s needs %s", args[0], strings.Join(missing, " and "))}, err)
	}
	return o, command, rest, err
}

// switches are the flags that take no value.
var switches = []string{"one-office", "json"}

// takeFlags takes the command's own flags out of args.
func (o *accountOrder) takeFlags(command accountCommand, args []string) (rest []string, err error) {
	for i := 0; i < len(args); i++ {
		name, value, given := strings.Cut(strings.TrimLeft(args[i], "-"), "=")
		if !strings.HasPrefix(args[i], "-") || !slices.Contains(command.options, name) {
			rest = append(rest, args[i])
			continue
		}
		switch {
		case slices.Contains(switches, name):
			value = "true"
		case !given && i+1 == len(args):
			err = errors.Join(err, misused{fmt.Errorf("--%s needs a value", name)})
		case !given:
			i++
			value = args[i]
		}
		o.flags[name] = value
	}
	return rest, err
}

// flag returns the value of a flag, or else the default.
func (o *accountOrder) flag(name, fallback string) string {
	if value, ok := o.flags[name]; ok {
		return value
	}
	return fallback
}

// inWords tells an error in full: what the records refused, field by field.
func inWords(err error) string {
	var e *models.Error
	if !errors.As(err, &e) {
		return err.Error()
	}
	english := text.For(text.English)
	words := english.Say(e.Key, e.Terms)
	for _, f := range e.Faults {
		name := "--" + strings.ReplaceAll(strings.TrimPrefix(f.Pointer, "/"), "_", "-")
		if f.Pointer == "/sign_in_name" {
			name = "NAME"
		}
		words += fmt.Sprintf("\n  %s: %s", name, english.Say(f.Key, f.Terms))
	}
	return words
}

// renamed gives the fields of a document the names of the flags that they came from.
func renamed(err error, names map[string]string) error {
	var e *models.Error
	if errors.As(err, &e) {
		for i := range e.Faults {
			if name, ok := names[e.Faults[i].Pointer]; ok {
				e.Faults[i].Pointer = name
			}
		}
	}
	return err
}

func foundEmployer(ctx context.Context, o *accountOrder) error {
	content, err := o.employerContent()
	if err != nil {
		return err
	}
	if !access.IsSignInName(o.names[0]) {
		return models.FaultAt("/sign_in_name", "fault.sign_in_name", nil)
	}
	scope := models.Scope{Employer: models.NewID()}
	var administrator *models.Account
	err = o.store.FoundEmployer(ctx, scope.Employer, o.names[0], content, func(tx *models.Tx) (err error) {
		administrator, _, err = access.CreateAccount(tx, models.RoleAdministrator, tx.NewID(), models.AccountContent{
			SignInName: o.flag("administrator", "admin"), Name: o.flag("administrator-name", "Administrator"),
			Role: models.RoleAdministrator, Language: o.flag("language", text.English),
		})
		return renamed(err, map[string]string{"/sign_in_name": "/administrator", "/name": "/administrator_name"})
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(o.out, "The employer %s is entered.\n", o.names[0])
	return o.issue(ctx, scope, o.names[0], administrator)
}

// employerContent reads an employer's profile from the flags.
func (o *accountOrder) employerContent() (c models.EmployerContent, err error) {
	var errs []error
	number := func(flag, fallback string) (n int64) {
		if _, err := fmt.Sscan(o.flag(flag, fallback), &n); err != nil {
			errs = append(errs, misused{fmt.Errorf("--%s: %q is not a number", flag, o.flag(flag, fallback))})
		}
		return n
	}
	weekday := func(flag, fallback string) time.Weekday {
		for d := time.Sunday; d <= time.Saturday; d++ {
			if strings.EqualFold(d.String(), o.flag(flag, fallback)) {
				return d
			}
		}
		errs = append(errs, misused{fmt.Errorf("--%s: %q is not a day such as sunday", flag, o.flag(flag, fallback))})
		return 0
	}
	start, err := time.Parse("15:04", o.flag("workday-start", "00:00"))
	if err != nil {
		errs = append(errs, misused{fmt.Errorf("--workday-start: %q is not a time such as 05:30", o.flag("workday-start", ""))})
	}
	c = models.EmployerContent{
		LegalName: o.flag("legal-name", ""), Address: o.flag("address", ""), TaxNumber: o.flag("tax-number", ""),
		InsuranceCarrier: o.flag("insurance-carrier", ""), Size: number("size", "0"),
		WeekStart: weekday("week-start", "sunday"), WorkdayStart: int64(start.Hour()*60 + start.Minute()), Payday: weekday("payday", "friday"),
		SecondApprover: o.flag("one-office", "") == "",
	}
	return c, errors.Join(errs...)
}

// issue makes a code and prints it with what its owner has to do.
func (o *accountOrder) issue(ctx context.Context, scope models.Scope, employer string, a *models.Account) error {
	code, err := o.gate.IssueCode(ctx, scope, models.RoleAdministrator, a.ID)
	if err != nil {
		return err
	}
	fmt.Fprintf(o.out, `
  employer  %s
  account   %s
  code      %s

It is good once, until %s. Its owner signs in first with it, at /first-sign-in in a browser, and sets a secret of %d characters at least; over the API:

  curl -H 'Content-Type: application/json' http://127.0.0.1:8470/api/v1/first-sign-in \
    -d '{"employer": "%[1]s", "account": "%[2]s", "code": "%[3]s", "secret": "…"}'
`, employer, a.Content.SignInName, code.Code, code.ExpiresAt.Format("2006-01-02 15:04 MST"), access.LeastSecret(a.Content.Role))
	return nil
}

// find returns the scope of the employer and the account that the command names.
func (o *accountOrder) find(ctx context.Context) (models.Scope, *models.Account, error) {
	employer, err := o.employer(ctx)
	if err != nil {
		return models.Scope{}, nil, err
	}
	scope := models.Scope{Employer: employer.ID}
	var found []models.Account
	err = o.store.View(ctx, scope, func(tx *models.Tx) (err error) {
		found, err = models.List[models.Account](tx, models.Page{Limit: 1}, models.Where("sign_in_name = ?", o.names[1]))
		return err
	})
	if err == nil && len(found) == 0 {
		err = fmt.Errorf("%s has no account %q; \"palmero account list %s\" lists them", o.names[0], o.names[1], o.names[0])
	}
	if err != nil {
		return models.Scope{}, nil, err
	}
	return scope, &found[0], nil
}

func (o *accountOrder) employer(ctx context.Context) (*models.Employer, error) {
	employer, err := o.store.FindEmployer(ctx, o.names[0])
	if models.KindOf(err) == models.NotFound {
		return nil, fmt.Errorf("there is no employer %q; \"palmero account list\" lists them", o.names[0])
	}
	return employer, err
}

func printCode(ctx context.Context, o *accountOrder) error {
	scope, account, err := o.find(ctx)
	if err != nil {
		return err
	}
	return o.issue(ctx, scope, o.names[0], account)
}

func suspendAccount(ctx context.Context, o *accountOrder) error {
	return o.setSuspended(ctx, true, "is suspended, and its sessions have ended")
}

func restoreAccount(ctx context.Context, o *accountOrder) error {
	return o.setSuspended(ctx, false, "may sign in")
}

func (o *accountOrder) setSuspended(ctx context.Context, suspended bool, outcome string) error {
	scope, account, err := o.find(ctx)
	if err != nil {
		return err
	}
	if account.Content.Suspended != suspended {
		content := account.Content
		content.Suspended = suspended
		err = o.store.In(ctx, scope, func(tx *models.Tx) error {
			_, err := access.UpdateAccount(tx, models.RoleAdministrator, account.ID, account.Version, content)
			return err
		})
	}
	if err == nil {
		fmt.Fprintf(o.out, "The account %s of %s %s.\n", o.names[1], o.names[0], outcome)
	}
	return err
}

func listAccounts(ctx context.Context, o *accountOrder) error {
	table := tabwriter.NewWriter(o.out, 0, 0, 2, ' ', 0)
	if len(o.names) == 0 {
		employers, err := o.store.Employers(ctx)
		if err != nil {
			return err
		}
		fmt.Fprintln(table, "EMPLOYER\tENTERED")
		for _, e := range employers {
			fmt.Fprintf(table, "%s\t%s\n", e.SignInName, e.CreatedAt.UTC().Format(time.DateOnly))
		}
		return table.Flush()
	}
	employer, err := o.employer(ctx)
	if err != nil {
		return err
	}
	fmt.Fprintln(table, "ACCOUNT\tROLE\tNAME\tSTANDING")
	page := models.Page{Limit: 500}
	err = o.store.View(ctx, models.Scope{Employer: employer.ID}, func(tx *models.Tx) error {
		for {
			accounts, err := models.List[models.Account](tx, page)
			if err != nil {
				return err
			}
			for _, a := range accounts[:min(len(accounts), page.Limit)] {
				fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", a.Content.SignInName, a.Content.Role, a.Content.Name, standing(a))
				page.After = a.Seq
			}
			if len(accounts) <= page.Limit {
				return nil
			}
		}
	})
	return errors.Join(err, table.Flush())
}

func standing(a models.Account) string {
	switch {
	case a.Content.Suspended:
		return "suspended"
	case a.Content.SecretHash == "":
		return "not signed in yet"
	}
	return "may sign in"
}
