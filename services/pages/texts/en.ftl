# The texts of the pages, in English. Short sentences with a subject; the next act first, then the reason.

stillroom-name = Stillroom
skip-to-sheet = Skip to the sheet
places-word = Places
writing = Writing…
you-wrote = You wrote
notice-anybody = Stillroom neither diagnoses nor prescribes.
docs-title = Documentation
docs-said = Everything that these pages do, other tools can do with the API.
docs-try = Try requests here.
docs-document = The OpenAPI document.
docs-find = Operation, field or problem
docs-nothing = Nothing is called “{ $a }”. Try a word of the trade.
docs-problems = Problems
docs-get-in = Get in
docs-recipes = Find and open a recipe
docs-work-out = Calculate
docs-make = Make and record
docs-review = Review
docs-write = Write formulas
docs-materials = Materials and cautions
docs-people = People
docs-keys = Keys for tools
docs-watch = Watch
docs-fields = Fields
docs-needed = required
docs-request = Example request
docs-answers = Answers
docs-answer = Example answer

place-today = Today
place-formulas = Formulas
place-batches = Batches
place-calculators = Calculators
place-queue = Queue
place-materials = Materials
place-people = People
place-libraries = Libraries
place-policy = Policy
place-api-clients = API clients
place-events = Events

month-january = January
month-february = February
month-march = March
month-april = April
month-may = May
month-june = June
month-july = July
month-august = August
month-september = September
month-october = October
month-november = November
month-december = December
date = { $a } { $b } { $c }
date-short = { $a } { $b }
when-today = { $a }
when-then = { $a }, { $b }
today-word = today
wait-seconds = { $a ->
    [one] one second
   *[other] { $a } seconds
}
wait-minutes = { $a ->
    [one] one minute
   *[other] { $a } minutes
}

## Getting in

sign-in-title = Sign in
sign-in-name = Sign-in name
password-word = Password
sign-in-act = Sign in
use-code = Use a one-time code
sign-in-wrong = The name or the password is incorrect.
too-many-tries = Too many tries. Try again in { $a }.
sign-in-first = Sign in to see this page.
sign-in-ended = You were signed out. Sign in to continue here.
sign-in-kept = You were signed out. Your text is kept and opens again when you sign in.
code-title = Set your password
code-word = One-time code
code-act = Set password
code-unusable = This code was used or has expired. Ask an administrator for a new one.
password-new = New password
password-current = Current password
password-rule = Use 12 characters or more. A long phrase is safer than odd characters.
password-change = Change password
forgotten-title = Forgotten password
forgotten-ask = Ask an administrator of your clinic for a one-time code. The person who invited you is an administrator.
forgotten-why = The code sets a new password. The old one works until then, and only you see either.
kept-title = You are signed in again
kept-said = Your text from before you were signed out was not sent yet.
kept-send = Send it now
kept-leave = Do not send it

## Your account

account-title = Your account
account-sessions = Where you are signed in
account-password-done = The password was changed. Every other session ended.
account-session-done = The session ended.
account-measures-done = The choice was saved on this device.
measures-title = Measures
measures-first = First
measures-grams = grams
measures-household = household measures, such as cups
measures-said = Both stand in recipes and at the bench. The one you choose is larger.
measures-act = Save choice
session-this = This session.
session-until = It ends at { $a } if it is not used.
session-since = of { $a }
session-end = End session
session-only = You are signed in nowhere else.
sign-out = Sign out

## Problems

problems-title = All problems
problem-what-to-do = What to do
problem-for-tools = For tools
problem-help = How to ask for help
problem-quote = Quote this request number
only-instructors = Only instructors may do this. Ask an instructor of the clinic.
problem-back = Go back and correct it
problem-home = Go to your first page
problem-wait = Try again in { $a }.
trouble-cross-site = A page of another site sent this form. Open the page here and send it again.

problem-malformed-request-title = The form cannot be read
problem-malformed-request-happened = The request was not a form of these pages. Nothing was saved.
problem-malformed-request-cure = Open the page again and send its form.
problem-idempotency-key-missing-title = The form’s key is missing
problem-idempotency-key-missing-happened = The form was sent without its key. Nothing was saved.
problem-idempotency-key-missing-cure = Open the page again and send its form.
problem-not-known-title = Not signed in
problem-not-known-happened = You are not signed in, or your session has ended. Nothing was saved.
problem-not-known-cure = Sign in to continue where you stopped.
problem-forbidden-title = Not permitted
problem-forbidden-happened = Your role does not permit this. Nothing was saved.
problem-forbidden-cure = Ask a person who may do it, or an administrator.
problem-gate-closed-title = Cautions not read yet
problem-gate-closed-happened = Only people who have read the cautions see amounts and method. This holds for every role.
problem-gate-closed-cure = Open the formula and read its cautions. The recipe opens then.
problem-not-found-title = Page not found
problem-not-found-happened = This page does not exist, or you may not see it. Nothing was saved.
problem-not-found-cure = Go to your first page and look for it there.
problem-method-not-allowed-title = Request not possible here
problem-method-not-allowed-happened = This address does not accept this kind of request. Nothing was saved.
problem-method-not-allowed-cure = Open the page and use its buttons.
problem-body-too-slow-title = The connection was too slow
problem-body-too-slow-happened = Your form did not arrive in full. Nothing was saved.
problem-body-too-slow-cure = Send it again over a better connection.
problem-headers-too-slow-title = The connection was too slow
problem-headers-too-slow-happened = The start of the request did not arrive in time. Nothing was saved.
problem-headers-too-slow-cure = Try again over a better connection.
problem-wrong-state-title = Not possible in this state
problem-wrong-state-happened = The record is in another state than this step needs. Nothing was saved.
problem-wrong-state-cure = Open the record again to see its current state.
problem-conflict-title = It already exists
problem-conflict-happened = Another record already has this name. Nothing was saved.
problem-conflict-cure = Choose another name, or use the existing record.
problem-request-in-flight-title = Your first form is still being saved
problem-request-in-flight-happened = You sent this form before, and it is being saved now. It is saved only once.
problem-request-in-flight-cure = Wait a moment and open the page again.
problem-stale-title = It changed while you wrote
problem-stale-happened = Another person saved it after you opened it. Nothing was overwritten, and your text is kept.
problem-stale-cure = Open it again, read the changes, and enter yours again.
problem-too-large-title = Too large
problem-too-large-happened = The form is larger than the service accepts. Nothing was saved.
problem-too-large-cure = Send less at a time.
problem-media-type-title = Format not accepted
problem-media-type-happened = The service does not accept this format here. Nothing was saved.
problem-media-type-cure = Open the page and send its form.
problem-invalid-request-title = Some fields are not valid
problem-invalid-request-happened = One or more fields must be corrected. Nothing was saved.
problem-invalid-request-cure = Go back, correct them, and send the form again.
problem-idempotency-key-reused-title = This form was sent before
problem-idempotency-key-reused-happened = This form was already saved with other content. The new content was not saved.
problem-idempotency-key-reused-cure = Open the page again. It shows the saved content and a new form.
problem-precondition-required-title = The version is missing
problem-precondition-required-happened = A change must name the version it was made from. Nothing was saved.
problem-precondition-required-cure = Open the page again and send its form.
problem-too-many-requests-title = Too many requests
problem-too-many-requests-happened = You sent too many requests in a short time. This one was not carried out.
problem-too-many-requests-cure = Wait a little, then try again.
problem-headers-too-large-title = The request is too large
problem-headers-too-large-happened = The start of the request is larger than the service accepts. Nothing was saved.
problem-headers-too-large-cure = Remove this site’s cookies, sign in, and try again.
problem-internal-title = An error occurred
problem-internal-happened = The service made an error. No partial change was saved.
problem-internal-cure = Try again. If the error returns, tell an administrator and quote the request number.
problem-contended-title = Too many changes at once
problem-contended-happened = Other people changed the same record at the same moment. Your change was not saved.
problem-contended-cure = Send it again.
problem-took-too-long-title = The calculation took too long
problem-took-too-long-happened = The calculation exceeded its time limit and was stopped. Nothing was saved.
problem-took-too-long-cure = Try again, or split the formula into smaller ones.
problem-unavailable-title = Not available at the moment
problem-unavailable-happened = The records cannot be reached now. Nothing was saved, and nothing is lost.
problem-unavailable-cure = Wait a moment and try again.

## Today and finding

today-title = Today
today-bench = On the bench
today-bench-empty = Nothing is on the bench.
today-back = Came back
today-back-empty = No batch came back.
today-due = Due
today-due-empty = Nothing is due.
all-assignments = All assignments
place-classes = Classes
classes-title = Classes
assignments-title = Assignments
no-assignment = No work is set. Join a class with the code that your instructor gave you.
no-work-set = No work is set in this class.
no-cohort = You teach no class.
open-work = Open it
opens-at = Opens { $a }.
due-at = Due { $a }.
late-until = Late work is taken until { $a }.
work-upcoming = Not open yet.
work-open = Open.
work-due = Due soon.
work-late = Late.
work-closed = Closed.
work-submitted = Waits to be marked.
work-returned = Came back to be corrected.
work-done = Accepted.
work-rejected = Rejected.
work-excused = Excused.
assignment-draft = draft
assignment-published = set
assignment-withdrawn = withdrawn
questions-answered = { $a } of { $b } questions answered.
no-questions = It has no questions.
class-stands = { $a } done, { $b } begun, { $c } not begun.
questions-first = Answer the questions first. The recipe opens when every question is answered. The numbers are yours alone.
begin-questions = Begin the questions
questions-done = Every question is answered. Read the cautions of the formula, then its recipe opens.
opened-before = The recipe was open to you before you answered.
questions-title = Questions
not-right = { $a } is not right.
answer-question = Answer
tries-left = { $a ->
    [one] One try is left.
   *[other] { $a } tries are left.
}
answer-right = Your answer is right.
answer-wrong = Your answer was not right, and no try is left.
you-answered = You answered { $a }.
right-is = Right is { $a }.
how-worked = How to calculate it
answer-form-mass = Enter the number with its unit, such as 27.2 g.
answer-form-volume = Enter the number with its unit, such as 250 mL.
answer-form-percent = Enter the number with the sign, such as 12.5 %.
answer-form-number = Enter a number.
answer-form-day = Enter the day as year, month and day, such as 2026-03-20.
to-make = To make
choose-one = Choose one of these.
assessed-title = What is assessed
points = { $a ->
    [one] one point
   *[other] { $a } points
}
must-pass = must pass
class-title = The class
has-not-begun = Has not begun.
right-of = { $a } of { $b } answered are right.
had-opened = The recipe was open before the answers.
no-student = No student is in this class.
make-class = Make a class
class-name = Name of the class
term-starts = First day of the term
term-ends = Last day of the term
class-zone = Time zone
zone-said = The dates of its work are in this time zone, which never changes. Enter an IANA name, such as Europe/Berlin.
day-cure = Enter the day as year, month and day, such as 2026-03-20.
term-says = { $a } to { $b }, in the time zone { $c }.
in-class-student = student
in-class-instructor = instructor
in-class-marker = marker
enrol-person = Enrol a person
enrol-as = In this class as
enrol-act = Enrol
leaving-said = Students of the clinic join as students, instructors as instructors or markers. A person who is removed sees nothing of the class any more.
class-list = Class list
class-list-said = Enter name and sign-in name, and a role unless it is student: Mira Okafor, mira.okafor. All of them are enrolled, or none.
class-list-act = Enrol all of them
nobody-enrolled = No one was enrolled. Correct these lines, then send the list again.
class-codes = Codes to join with
no-code = No code can be used now.
code-days = Days that a new code works
days-cure = Enter a whole number of days from 1 to 366.
make-code = Make a code
close-code = Close
class-code = Code of the class
class-code-said = Give it to your students. They enter it under Join a class. It is not shown again.
class-code-before = The code was shown before. Close it, then make a new one.
back-to-class = Back to the class
change-class = Change name and term
class-stale = The class changed after you opened this page. Read it as it is now, then change it again.
only-its-instructors = Only the cohort's instructors may do this. Ask one of them.
own-questions = Questions of the class
own-questions-said = Write questions of your own here. An assignment names them beside the calculated ones.
no-own-question = The class has no question of its own yet.
add-question = Add a question
question-word = Question
answer-word = Answer
answer-either = Enter a number with its unit, or options to choose from.
answer-number = Right number
answer-tolerance = Tolerance
answer-options = Options, one a line
answer-place = The right option is number
worked-word = Explanation shown after the answer
set-work-title = Write an assignment
change-work-title = Change the assignment
version-said = Students have this assignment. A change is a new version with a reason that they read. Its formulas and questions stay.
work-stale = Another instructor changed this assignment after you opened it. Compare it with what you typed, then save again.
work-faults = { $a ->
    [one] One field was not accepted. What you typed is kept.
   *[other] { $a } fields were not accepted. What you typed is kept.
}
instructions-word = What is to be done
formulas-word = Formulas
formulas-said = Enter one formula, or several to choose from. The questions are about the first.
formula-number = Formula { $a }
formula-cure = No approved formula with the title “{ $a }” is visible to you. Find it under Formulas.
formulas-cure = Several formulas have this title. Enter one of them in full: { $a }.
titles-title = Formulas
quantity-to-make = Quantity to make
when-word = When
moments-said = Times are those of { $a }.
opens-word = It opens
due-word = It is due
late-word = Late work until (optional)
tries-word = How often
attempts-word = Tries for each question
returns-word = Returns to be corrected
rubric-said = Enter the levels of a criterion from the fewest points to the most, one a line with its points first.
criterion-number = Criterion { $a }
criterion-word = What is assessed
levels-word = Levels
levels-example = 6 Every weighing is within tolerance.
level-number = Level { $a }:
level-cure = Begin the line with its points, such as 6 Every weighing is within tolerance.
must-pass-pick = Must be passed, outside the points
total-word = Points in all (optional)
total-said = Left empty, they are the points of the highest levels.
points-cure = Enter a whole number of points, or leave the field empty.
questions-said = A student answers them before the recipe opens, each with numbers of their own.
question-number = Question { $a }
no-question = none
question-jar-filling = how much of an ingredient fills the jars
question-bottle-filling = how much of an ingredient fills the bottles
question-spirit-dilution = what spirit and water make a strength
question-use-by = by when it must be used
question-must-not-use = who must not use it
version-why = Why it changes
new-version-act = Save the new version
keep-work = Save the draft
back-word = Back
changes-title = What changed
set-acts = Set this work
publish-said = Your students see it then, and its recipe stays closed until they have answered the questions.
publish-act = Set it
change-draft = Change the draft
new-version = Write a new version
work-withdraw-why = Withdraw it, because
work-withdraw-said = It then asks for nothing and keeps no recipe closed. What students answered stays.
withdraw-work = Withdraw it
own-work = Your work
handed-title = Handed in
work-version = version { $a }
handed-submitted = Waits to be marked.
handed-returned = Came back to be corrected.
handed-accepted = Accepted.
handed-rejected = Rejected.
handed-at = Handed in { $a }.
handed-late = Late.
receipt-is = Receipt { $a }.
batch-word = Batch { $a }
which-batch = Which batch do you hand in?
no-batch-yet = You have no batch of these formulas that can be handed in. Make one, then come back.
choose-batch = Choose the batch that you hand in.
reflection-word = What you would do differently (optional)
hand-in-act = Hand it in
hand-in-said = The record is submitted with it, and neither changes afterwards.
save-draft = Save the draft
draft-kept-at = Saved { $a }.
draft-elsewhere = This text was saved in another window. Copy what you typed, then open the page again.
returns-left = { $a ->
    [0] It cannot come back to be corrected.
    [one] It can come back to be corrected once.
   *[other] It can come back to be corrected { $a } times.
}
allowed-time = { $a } more: { $b }
allowed-excused = The absence is excused: { $a }
hours-count = { $a ->
    [one] one hour
   *[other] { $a } hours
}
minutes-count = { $a ->
    [one] one minute
   *[other] { $a } minutes
}
questions-open = { $a ->
    [one] One question has no final answer.
   *[other] { $a } questions have no final answer.
}
nothing-handed = Nothing was handed in yet.
notes-title = Notes for instructors
notes-said = The student does not see these notes. They decide nothing.
allow-title = Extra time or absence
allow-what = What you allow
allow-time = more time
allow-excuse = the absence is excused
allow-nothing = the dates of everybody again
allow-hours = Extra time in hours
hours-cure = Enter hours up to 2160, such as 48 or 0.5.
allow-why = Reason, which the student reads
allow-act = Allow it
counts-word = assignment
counts-for = Hand it in for { $a }
can-count-for = It can count for { $a }
join-title = Join a class
join-code = Code of the class
join-help = Your instructor gives you the code. It runs out after some days.
join-act = Join
today-open = Recipes open to you
today-open-empty = No recipe is open to you. Read the cautions of a formula to open its recipe.
entries-written = { $a } written
go-on = Go on
with-batch = with { $a } { $b }
all-batches = All batches
returned-by = { $a } sent it back for correction.
answer-act = Answer
until-word = until
find-formula = Find a formula
find-act = Find
formulas-title = Formulas
title-or-material = Title or material
kind-word = Kind
any-kind = any kind
any-regime = anything
for-whom = For whom
for-anyone = anyone
for-pregnant = someone pregnant
for-breast-feeding = someone breast-feeding
for-age = a child of a given age
for-allergy = someone allergic
for-condition = someone with a condition
age-label = Age, such as 4 or 18m
which-label = Which one, such as asteraceae
found-count = { $a } found
found-title = Search results
all-formulas = All formulas
found-nothing = No formula contains “{ $a }”. Try a part of the word.
in-no-library = You are not a member of a library yet. Ask an instructor to add you.
found-withheld = Withheld: an instructor must decide on it.
found-open = Recipe open to you.
found-draft = You may not make it yet.
found-notes = Notes to read first.
things-to-read-first = { $a ->
    [one] One thing to read first.
   *[other] { $a } things to read first.
}
things-to-read = { $a ->
    [one] one thing to read
   *[other] { $a } things to read
}
show-more = Show 50 more
suits-nothing = nothing known against it
suits-notes = with care
suits-ask = ask first
suits-not = not suitable
suits-unknown = not known
suits-stop = stopped
suits-looked = What was looked at
caution-offer = “{ $a }” is said already: “{ $b }” You may remove yours.
suits-silent = Looked at and not raised

## A formula and its cautions

for-use = For use { $a }. Made as { $b }.
formula-withheld = Withheld since { $a }: a new stop applies, and an instructor must decide on it.
formula-withdrawn = Withdrawn. Do not make this formula.
formula-superseded = Superseded. Use the newer revision.
formula-waits = You have read the cautions. The recipe opens when an instructor has countersigned.
read-then-opens = Read these to open the recipe
read-then-decide = Read these to decide
cautions-title = Cautions
open-recipe = Open the recipe
suits-title = Suitability
ask-about = Ask about
ask-act = Ask
made-of = Made of
written-word = Written by
written-by = { $a }; approved by { $b } on { $c }, revision { $d }
written-alone = { $a }, { $b }
written-undecided = { $a }, revision { $b }
reading-must-not = Who must not use it
reading-ask-first = Who asks first
reading-use = How to use it
reading-keep = How to keep it
reading-maker = For the person who makes it
reading-changed = The cautions changed while you read. Read the new ones below.
reading-unread = { $a } of { $b } are not read yet. This is the first of them.
read-these = { $a ->
    [1] I have read this
    [2] I have read these two
    [3] I have read these three
    [4] I have read these four
    [5] I have read these five
   *[other] I have read these { $a }
}
why-here = { $a ->
    [one] Why is it here?
   *[other] Why are they here?
}
why-path = By { $a }.
why-source = { $a }
why-changed = The clinic changed it: { $a }
read-before-as = Before, you read: { $a }
read-before-level = Before, you read it as a { $a }: { $b }
read-before = { $a ->
    [one] The one you read before
   *[other] The { $a } you read before
}
level-stop = Stop: do not make it
level-contraindication = Contraindication
level-contraindication-of = Contraindication, { $a } of { $b }
audience-everyone = Everyone
audience-pregnant = Pregnant
audience-breast-feeding = Breast-feeding
audience-under-years = { $a ->
    [one] Under one year
   *[other] Under { $a } years
}
audience-under-months = Under { $a } months
audience-allergy = Allergic to { $a }
audience-condition = With { $a }
source-verified = Source: { $a }. Read in the original.
source-copy = Source: { $a }. Read in a copy.
source-memory = From memory: no source was read yet.
source-practice = Common practice, no source.
source-definition = { $a }, by definition.
figure-unknown = unknown
made-for-somebody = Is it made for a particular person?
made-for-whom = For whom
countersign-said = For some people an instructor countersigns before the recipe opens.
gate-never = The recipe opens when you have read its cautions.
gate-revision = This revision is not the one you read. Its recipe opens when you have read its cautions.
gate-expired = You read these on { $a }, which is too long ago. The recipe opens when you have read them again.
gate-changed = You read the cautions on { $a }. Since then { $b ->
    [0] none is new
    [one] one is new
   *[other] { $b } are new
} and { $c ->
    [0] none is stronger
    [one] one is stronger or worded otherwise
   *[other] { $c } are stronger or worded otherwise
}. The recipe opens when you have read them.

## Recipe

recipe-word = recipe
recipe-of = For use { $a }. Revision { $b }.
make-word = Make
for-word = for
way-label = Quantity by
way-jars = jars
way-mass = a mass
way-volume = a volume
way-line = the stock of one line
way-own = as written
jars-label = How many jars
jars-of = of
fill-label = In each jar, such as 30 g
mass-label = How much, such as 500 g
volume-label = How much, such as 250 mL
line-word = line
line-label = Which line, such as 1.1
line-amount-label = How much of it you have, such as 2 cups
jars-cure = Enter the number of jars, such as 12.
recipe-losses = { $a } stays in the pot; the balance reads { $b }
recipe-nothing = nothing
recipe-any = any weight
pot-label = Stays in the pot, such as 4 %
pot-says = stays in the pot;
dry-label = Evaporates, such as 1 %
dry-says = evaporates;
reads-says = the balance reads
reads-label = The balance reads, such as 0.1 g
density-says = the measured density is
density-label = Density of the product, such as 0.95 g/mL
application-says = one application is
application-label = One application, such as 2 g
work-it-out = Calculate
lines-caption = What to weigh, by phase
lines-columns = Material, household measure, function
weigh-word = Weigh
why-figure = Why { $a }?
aliquot-how = How to weigh so small an amount
in-all = in all
start-batch = Start a batch
print-word = Print
method-title = Method
hold-word = Hold
hold-says = until a second person has checked.
comes-out = Result
use-by = Use by
if-made-today = { $a }, if made today.
date-cold = { $a } in a refrigerator
date-limited = By { $a }.
no-date = No dating rule applies. An instructor must set the date.
on-the-jar = On the jar
not-known = Not known

## The bench

form-without-key = Open the page again and send its form.
list-title = Weigh several at once
list-empty-left = Leave a line empty to weigh it later.
list-nothing = Every line is weighed.
asked-title = Asked
weighed-title = Weighed
asked-word = asked
expected-word = Expected
weighed-label = Weighed, in grams
heat-label = Temperature, in °C
ph-label = pH
range-says = { $a } to { $b } g is within tolerance ({ $c } %).
range-same = { $a } g is within tolerance ({ $b } %).
ph-here = Write down the pH
heat-says = Enter the temperature you read.
step-says = Enter a temperature if you measured one.
ph-says = Enter the pH if you measured it.
yield-says = Weigh the whole yield.
act-ph = Measure the pH
act-yield = Weigh the yield
aloud-weigh = Weigh { $a } grams of { $b }.
lot-is = lot { $a }
lot-until = Lot { $a }, good until { $b }
lot-none = no lot
lot-word = Lot
lot-shown = Lot { $a }, good until { $b }
lot-asked = Which lot?
good-until = Good until
measured-with = Measured with
what-you-see = Appearance
why-corrected = Reason
was-written = Before:
reason-settled = I read the balance before it had settled.
reason-wrong-line = I wrote it on the wrong line.
reason-lot = The lot had not been written down.
reason-mistyped = I mistyped it.
reason-other = or another reason
write-correction = Write the correction
leave-it = Leave it
write-down = Write down
write-all-down = Write all down
done-at = Done at
done-word = Done
start-minutes = { $a ->
    [one] Start one minute
   *[other] Start { $a } minutes
}
read-aloud = Read aloud
use-balance = Use a balance
left-hand = Left hand
right-hand = Right hand
less-by = { $a } { $b } less
more-by = { $a } { $b } more
far = { $a } of { $b }
correct-act = Correct
whole-batch = The whole batch
now-word = Now:
read-record = Read the record
written-now = Written: { $a }.
allowed-says = { $a } % is allowed: { $b } to { $c } g.
effect-says = { $a } is { $b } of the { $c } instead of { $d }.
within-says = Within tolerance.
bench-again = This form was already saved. You can correct the saved entry.
kept-here = Kept on this phone
kept-nothing = Nothing is kept on this phone.
no-network = No network.
no-recipe-kept = The recipe is not kept on this phone, so no target weights are shown. Your entries are safe.
try-again = Try again
step-word = step
not-sent = Not sent yet.
entries-kept = {"{0}"} entries are kept on this phone. They are sent in order when it returns.
entry-kept = One entry is kept on this phone. It is sent when it returns.
sending = Sending {"{0}"} of {"{1}"}.
all-sent = Everything is sent.
throw-away = Discard it
you-typed = Not accepted: {"{0}"}
all-done-here = All entries of this batch are written. They are sent when the network returns.
balance-on = The balance is connected
balance-none = No balance is connected. Type its reading.
live-within = Within tolerance.
live-as-asked = As asked.
live-over = {"{0}"} g over ({"{1}"} %).
live-under = {"{0}"} g under ({"{1}"} %).
live-take-out = Take out at least {"{0}"} g, or record it as it is.
live-add = Add at least {"{0}"} g, or record it as it is.
live-number = Enter a number with a decimal point, such as 312.4.
live-too-hot = {"{0}"} °C above the maximum. Let it cool, or record it as it is.
live-too-cold = {"{0}"} °C below the minimum. Warm it, or record it as it is.
live-heat-within = {"{0}"} °C: within the range of the step.
timer-left = {"{0}"} left
timer-up = Time is up

## Records

batches-title = Batches
batches-of = Batches
batches-whose = Whose batches
whose-all = everybody’s
whose-mine = mine
batches-that-are = that are
batches-state = In which state
any-state = in any state
show-act = Show
batches-none = No batches yet. Start one from a recipe.
state-planned = planned
state-making = on the bench
state-submitted = submitted
state-returned = came back
state-accepted = accepted
state-rejected = rejected
state-abandoned = abandoned
who-when = { $a }, { $b }
verdict-return = returned
verdict-accept = accepted
verdict-reject = rejected
cost-word = Cost
the-jars = The jars
disposition-practice-only = For practice only. Do not give out.
disposition-quarantine = In quarantine. Do not give out.
disposition-released = Released
disposition-recalled = Recalled
disposition-discarded = Discarded
record-planned = No entries yet.
record-making = This batch is on the bench. Submit it when every entry is written.
record-making-by = { $a } is making this batch.
record-submitted = Submitted: { $a }. An instructor of the library reviews it.
record-returned = { $a } sent it back for correction.
record-accepted = Accepted by { $a }.
record-rejected = Rejected by { $a }.
record-abandoned = Abandoned. Its entries are kept.
record-of = { $a }, for { $b }
review-act = Review it
to-mend = To correct
to-look-at = To check
all-as-asked = Everything as asked.
rest-as-asked = What did not change is as asked.
not-written = Not written yet
your-answer = Your answer
submit-again = Submit again
submit-act = Submit for review
to-bench = To the bench
as-asked-title = As asked
what-was-made = What was made
submissions-title = Submissions
nobody-reviewed = It has not been reviewed yet.
abandon-title = Abandon this batch
abandon-sure = I abandon this batch. Its entries are kept, and no more can be added.
abandon-act = Abandon batch
written-at = Written { $a }.
corrected-to = Corrected:
instead-of = instead of
review-said = { $a } made it on { $b } for { $c }. Submission { $d }, { $e }.
review-own = You made this batch. Another instructor must review it.
review-clean-words = Everything as asked.
waiting-count = { $a ->
    [one] one waits
   *[other] { $a } wait
}
changed-since = Changed since the last submission
comment-word = Comment
comment-on = Comment on { $a }
as-asked-folded = { $a ->
    [one] one line as asked
   *[other] { $a } lines as asked
}
as-made = As made
your-decision = Your decision
to-queue = To the queue
what-you-tell = Your remarks to { $a }
accept-act = Accept
accept-with = { $a ->
    [one] Accept with one finding
   *[other] Accept with { $a } findings
}
return-act = Return for correction
reject-act = Reject
next-opens = The next record opens at once.
keys-on-entry = On an entry:
keys-move = move
keys-comment = comment
keys-fold = fold
keys-decide = to the decision
keys-turn-off = Turn keys off
keys-turn-on = Turn keys on

## The queue

queue-title = Queue
queue-review = To review
queue-decide = To decide
queue-countersign = To countersign
queue-amendments = Amendments to confirm
queue-drafts = Your drafts
nothing-waits = Nothing waits.
nobody-waits = No one is waiting.
no-draft = You have no draft.
write-formula = Write a formula
revision-by = revision { $a }, by { $b }
revision-number = revision { $a }
countersign-title = Countersign
countersign-said = For some people, an instructor must countersign before the recipe opens.
countersign-act = Countersign

## The workshop

workshop-title = A new formula
draft-word = draft
first-phase = everything
title-word = Title
library-word = Library
for-whom-and-how = Users, route and label
route-word = How it is used
regime-word = Made as
yield-word = Yield, such as about 1000 g
site-word = Part of the body: body, face, lips or hair
youngest-word = Youngest age, such as 3 years
daily-word = Most used in a day, such as 5 g
ph-word = Target pH, such as 5.0
directions-word = Directions
storage-word = Storage
container-word = Container
after-word = Once opened
own-cautions = Your own cautions, one a line
share-word = share
lines-title = Lines
phase-label = Phase { $a }
line-number = Line { $a }
step-number = Step { $a }
not-read = not understood
another-phase = Another phase, by its name
another-phase-lines = Lines of the other phase
line-example = 50 g emulsifying wax, emulsifier
keep-draft = Keep the draft
propose-act = Propose
comes-out-as = Comes out as
nothing-comes = The figures follow when every line is understood.
maker-reads = The maker will read
table-behind = The table
material-word = Material
room-left = Room left under the limits
no-rule-recorded = No rule is recorded for this.
why-word = Why?
others-count = { $a } others
picture-says = Composition by mass: { $a }. The table has the figures.
emulsion-word = Emulsion
preserved-word = Preserved
allergens-title = Fragrance allergens
allergens-none = No fragrance allergen is recorded in it.
allergens-named = The label must name { $a }.
allergens-below = The label need not name { $a }.
allergens-unknown = The shares of these are not known: { $a }.
other-figures = Other figures
cost-needs-prices = Unknown: prices stand with the lots.
cost-calculator = Calculate the cost
limit-within = { $a }: { $e } % left. It contains { $b }, { $c }. { $d }.
limit-unknown = { $a }: not judged, because some content is not known. { $c }. { $d }.
limit-not-covered = { $a }: no rule is recorded. { $c }. { $d }.
limit-exceeded = { $a }: limit exceeded. It contains { $b }, { $c }. { $d }.
limit-prohibited = { $a }: prohibited, and the formula contains it. { $d }.
draft-not-kept = Not saved yet. Choose “Keep the draft”; then it is saved as you type.
draft-saved = Saved at { $a }.
draft-not-saved = Not saved: some lines must be corrected.
draft-stale = Not saved: this draft was saved elsewhere meanwhile.
draft-saving = Saving…
draft-offline = Not saved: no network. Keep this page open; saving is tried again.
draft-signed-out = Not saved: you were signed out. Choose “Keep the draft”; your text is kept while you sign in.
draft-unsaved = Not saved yet.
draft-copied = Copied from the last revision. Enter yield, daily use and evidence of stability again.
names-found = {"{0}"} names. Choose one with the arrow keys and Enter.
names-title = Materials and formulas
stale-word = changed
stale-draft = This draft was saved elsewhere after you opened it. The fields show your version.
stale-theirs = saved elsewhere
stale-yours = yours
keep-mine = Keep mine
keep-theirs = Keep theirs
compare-with = Compare with revision { $a }
compared-word = comparison
compared-said = Revision { $a } beside revision { $b }.
compared-nothing = Lines, method and label are the same.
to-revision = Open revision { $a }
other-revisions = Other revisions
revision-numbered = Revision { $a }
revision-state-draft = draft
revision-state-proposed = proposed
revision-state-approved = approved
revision-state-returned = returned
revision-state-superseded = superseded
revision-state-withdrawn = withdrawn
yield-short = Yield
site-short = Part of the body
youngest-short = Youngest age
daily-short = Most used in a day
ph-short = Target pH
decide-said = Revision { $a }, proposed by { $b }.
what-changed = What changed
was-word = was
is-word = is
none-word = none
same-lines = { $a ->
    [one] One line or step is the same.
   *[other] { $a } lines and steps are the same.
}
what-you-tell-author = Your remarks to the author
stop-blocks = A stop blocks approval
own-formula = You wrote this formula. Another instructor must decide.
approve-act = Approve
return-proposal = Return
nested-closed = You do not have access to a nested formula, so its figures are not shown.

## The clinic's own affairs

people-title = People
role-student = student
role-instructor = instructor
role-administrator = administrator
account-state-invited = invited
account-state-active = active
account-state-disabled = disabled
nobody-invited = No one was invited: { $a } of { $b } lines must be corrected.
invite-one = Invite one
invite-act = Invite
invite-class = Invite a class
invite-class-act = Invite all of them
name-word = Name
role-label = Role
class-label = One line a person
class-how = Enter name, sign-in name, and a role unless it is student: Mira Okafor, mira.okafor. All of them are invited, or none.
class-line-cure = Enter a name, a comma and a sign-in name, such as Mira Okafor, mira.okafor.
class-role-cure = “{ $a }” is not a role. Enter student, instructor or administrator.
codes-title = Shown once
codes-said = Give each person their code. It sets a password, and it is not shown again.
code-until = It is valid until { $a }.
code-shown-before = The code was shown before. Start a reset for a new one.
role-said = The change takes effect at once, even where the person is signed in.
change-account = Change the account
reset-said = A one-time code sets a new password. The old one works until it is used.
reset-act = Start a reset
disable-said = Disabling ends every session, and closes the API clients for which this person is responsible.
disable-act = Disable
enable-act = Enable
libraries-title = Libraries
no-library = No libraries yet. Make one.
make-library = Make a library
what-for = Purpose
members-title = Members
no-members = No members yet. Add one.
add-member = Add a member
add-act = Add
remove-act = Remove
remove-said = Removing a member closes the recipes of this library to them at once.
change-library = Change the library
policy-title = Policy
policy-since = Version { $a }, in force since { $b }.
policy-stale = The policy changed while you wrote. The fields show your version. Put it in force again to replace the newer one.
policy-faults = Nothing changed: some fields must be corrected.
policy-weighing = Weighing
policy-off-by = A weighing may be off by
policy-tolerance = Tolerance in per cent
policy-active = of an active material or a preservative by
policy-active-tolerance = Tolerance of active materials in per cent
policy-reading = Reading
policy-holds = An acknowledgement holds
policy-days = Days that an acknowledgement holds
days-word = days.
policy-audiences = An instructor countersigns for, such as pregnant, under:3y
policy-people = Two people
policy-second = An approval needs a second person
policy-clinic = The clinic
policy-notice = The notice on every page and label with a recipe
policy-zone = Time zone
policy-currency = Currency
policy-measures = Cups and spoons
customary-us = United States
customary-imperial = imperial
customary-metric = metric: cup of 250 mL, spoons of 5 and 15 mL
policy-drops = Drops in 1 mL
policy-drops-say = Counted with your own dropper. An empty field takes 20 for water and essential oil, and nothing for the rest.
drops-water = water
drops-spirit = spirit, tincture
drops-oil = oil
drops-essential-oil = essential oil
drops-glycerol = glycerol
policy-dating = Dating
policy-off = Rule sets that are switched off, one a line: key: reason
policy-why = Reason for the change
policy-act = Put in force
clients-title = API clients
key-word = Key
key-once = Shown once. Copy it now.
key-shown-before = The key was shown before. Revoke it and make a new one.
never-used = never used
client-said = { $a } is responsible for it. { $b }. Key { $c }…
key-until = Valid until { $a }.
revoke-act = Revoke
revoked-word = Revoked
no-clients = No API clients yet.
make-key = Make a key
tool-name = Name of the tool
responsible-word = Responsible person
may-do = Permitted actions
key-days = Days until it expires
events-title = Events
events-what = Show events of
events-who = Who
anybody-word = anybody
events-did = did to
events-subject = The ID of a record
anything-word = anything
events-service = The service
events-none = No events.
journal-word = Journal
verify-now = Verify now

go-on-writing = Go on writing
decide-act = Decide about it
revise-act = Write a further revision
withdraw-title = Withdraw formula
withdraw-why = Reason
withdraw-said = This recipe, and those of every formula that contains it, close at once.
withdraw-act = Withdraw

## Materials

materials-title = Materials
any-name = Any name
changed-by-clinic = changed by the clinic
no-material = No material is called “{ $a }”.
facts-title = Facts
fact-constituent = contains
fact-allergy = allergy group
fact-plant = plant
fact-called = Also called { $a }
fact-alike = mistaken for
fact-poisonous = { $a }, which is poisonous. { $b }
fact-harmless = { $a }. { $b }
fact-range = { $a } to { $b }
fact-at = at { $a } °C
fact-routes = When used { $a }.
fact-source = this entry
merged-into = It was merged into another material.
version-number = Version { $a }
yes-word = yes
no-word = no
amend-act = Amend
amend-said = A change that makes it less cautious waits for a second instructor. When it takes effect, every formula that contains it is calculated again.
amend-why = Reason for the change
field-of-name = Name
field-of-kind = Kind
field-of-inci = INCI name
field-of-botanical-name = Botanical name
field-of-botanical-author = Botanical author
field-of-family = Family
field-of-part = Part
field-of-state = State, such as dried
field-of-density-g-per-ml = Density, g/mL
field-of-density-at-celsius = measured at, °C
field-of-water-percent = Water, %
field-of-ethanol-percent-by-volume = Ethanol, % by volume
field-of-hlb = HLB
field-of-required-hlb = Required HLB, oil in water
field-of-pregnancy = In pregnancy
field-of-breast-feeding = While breast-feeding
field-of-source = Source
field-of-status = How the source was read
entry-constituents = Constituents, one a line: substance; least %; most %
entry-cautions = Cautions, one a line: level; audiences; text
entry-synonyms = Other names, one a line
entry-allergies = Allergy groups, one a line
import-title = Import a table
import-said = All rows are imported, or none. Use the columns of the exported table.
import-table = The table, as comma-separated values
import-act = Import
amendment-title = Amendment
amendment-state-awaiting-second-person = waits for a second instructor
amendment-state-in-force = in force
amendment-state-refused = refused
amendment-decided = Decided by { $a }, { $b }.
amendment-made = Made by { $a }, { $b }.
read-material = Read the material
confirm-act = Confirm
refuse-act = Refuse
reached-title = Formulas affected
withheld-word = withheld
cautions-changed = cautions changed
reached-nothing = No formula contains it.

## Calculators

calculators-title = Calculators
calculator-word = calculator
other-calculators = Other calculators
calc-alcohol = Spirit and water
calc-say-alcohol = Make [wanted|How much] of [strength|What strength] from [stock|The spirit there is] spirit and water.
calc-alcohol-strength = Strength of a spirit
calc-say-alcohol-strength = A spirit of [by_volume|By volume] by volume, or [by_mass|By mass] by mass.
calc-hydrometer = A hydrometer reading
calc-say-hydrometer = The hydrometer reads [reading|Reading] at [temperature|Temperature].
calc-alcohol-mixture = Mixing spirits
calc-say-alcohol-mixture = Mix these: [streams|Amount and strength, one a line]
calc-extraction = Herb behind an extract
calc-say-extraction = How much dried herb is in [extract|How much extract] of an extract of [ratio|Ratio], [convention|How the ratio is meant]?
calc-herb-for-extract = Extract for a herb
calc-say-herb-for-extract = How much extract of [ratio|Ratio], [convention|How the ratio is meant], stands for [herb|How much herb] of dried herb?
calc-pressing = Pressing
calc-say-pressing = [herb|Herb] of herb in [menstruum|Menstruum] of menstruum gave [pressed|Pressed] when pressed.
calc-maceration = Macerating several times
calc-say-maceration = [herb|Herb] of herb, the marc keeping [retained|How many times its weight the marc keeps] times its weight, macerated with [turns|The menstruum of each turn, one a line]
calc-fresh-herb = Menstruum for a fresh herb
calc-say-fresh-herb = [herb|Herb] of fresh herb with [water|Its water] water in [menstruum|Menstruum] of menstruum, to be [wanted|Wanted strength] in the end.
calc-emulsion = HLB that oils require
calc-say-emulsion = For [emulsion|Type of emulsion] these oils require: [oils|Amount and oil, one a line]
calc-emulsifiers = HLB of emulsifiers
calc-say-emulsifiers = These emulsifiers together: [emulsifiers|Amount and emulsifier, one a line]
calc-emulsifier-blend = Blend of two emulsifiers
calc-say-emulsifier-blend = Of one of HLB [one|HLB of the one] and one of [other|HLB of the other], for HLB [target|Wanted HLB], [amount|How much] in all.
calc-weighing = Least that can be weighed
calc-say-weighing = On a balance that reads [readability|The balance reads], off by [error|Largest error] at most.
calc-aliquot = An aliquot
calc-say-aliquot = For [wanted|Wanted], where [least|Least] can be weighed and [aliquot|Aliquot] is taken.
calc-strength = Diluting a stock
calc-say-strength = Make [wanted|How much] of [strength|What strength] from a stock of [stock|Strength of the stock].
calc-alligation = Two strengths for a third
calc-say-alligation = Of [one|One strength] and [other|The other strength], make [amount|How much] of [wanted|Wanted strength].
calc-mixed-strength = Strength of a mixture
calc-say-mixed-strength = These together: [portions|Amount and strength, one a line]
calc-proportion = Proportion
calc-say-proportion = If [amount|How much] is in [whole|The whole], how much is in [part|The part]?
calc-limits = Limits on the skin
calc-say-limits = A cosmetic, [exposure|Leave-on or rinse-off], for [youngest|The youngest, empty for adults] on [site|Part of the body, empty for any], of [lines|Amount and material, one a line]
calc-use-by = Use-by date
calc-say-use-by = A [preparation|Kind of preparation] made on [made_on|Day of making], kept in a [storage|How it is kept].
calc-cost = Cost
calc-say-cost = For [containers|How many jars] jars: [draws|Name; quantity; price; per, one a line]
calc-dose = Content of one application
calc-say-dose = A [preparation|Kind of preparation], [mass|How much at once] at once, [times_a_day|How often a day] times a day, of [lines|Amount and material, one a line]
calc-units = Another unit
calc-say-units = [quantity|How much] of [material|Material] in [to|The other unit], at [density|Density, empty where the material is known].
