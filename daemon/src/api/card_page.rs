//! The job card: one page for a phone, laid out like the printed card that hangs at a machine. What runs, until when,
//! when somebody is needed next, the sheet's drawing, and a hold at the next lift. It moves nothing.
//!
//! May live here: the page's text. May not: asking anybody, any rule of the shop.

use chargehand_types::check::Drawing;
use chargehand_types::now::{LinkNow, Now, SheetNow};
use chargehand_types::plan::DayPlan;
use chargehand_types::stage::Stage;
use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use std::fmt::Write as _;

/// The page's style.
pub(super) const STYLE: &str = include_str!("card_page/job-card.css");
/// The page's script; the page is whole without it.
pub(super) const SCRIPT: &str = include_str!("card_page/job-card.js");

/// Times somebody is needed that are listed.
const NEEDED_SHOWN: usize = 4;
/// Runs of the bit drawn at most, so that the page stays small.
const PATHS_MOST: usize = 400;
/// Bytes of a drawing at most.
const DRAWING_MOST: usize = 40_000;

/// The page.
pub(super) fn page(now: &Now, plan: Option<&DayPlan>, drawing: Option<&Drawing>) -> String {
    let zone = plan.and_then(|p| p.time_zone.parse::<Tz>().ok()).unwrap_or(Tz::UTC);
    let clock = |at: DateTime<Utc>| at.with_timezone(&zone).format("%H:%M").to_string();
    let mut out = String::with_capacity(16_384);
    let title = safe(&format!("{}: {}", now.machine.name, now.headline));
    let _ = write!(
        out,
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"><meta name=\"color-scheme\" content=\"light dark\"><title>{title}</title><link rel=\"stylesheet\" href=\"/job-card.css\"><script src=\"/job-card.js\" defer></script><noscript><meta http-equiv=\"refresh\" content=\"20\"></noscript></head><body><main><header><span>{}</span> <span class=\"faint\" id=\"link\">as of {} ({zone})</span></header>",
        safe(&now.machine.name),
        clock(now.at)
    );
    for call in &now.calls {
        let _ = write!(out, "<p class=\"call\" role=\"alert\">Somebody is called. {}</p>", safe(&call.text));
    }
    if let Some(asked) = now.away.as_ref().and_then(|a| a.asked) {
        let real = asked.left.value() / now.machine.rate.max(0.001);
        let until = clock(now.at + TimeDelta::milliseconds((real * 1000.0).clamp(0.0, 1.0e12) as i64));
        let (asks, then) = if asked.called {
            (
                "Nobody answered whether somebody is still there.",
                "it holds at its next lift and the spindle stops there",
            )
        } else {
            ("Is somebody still there?", "somebody is called")
        };
        let _ = write!(
            out,
            "<p class=\"call\" role=\"alert\">{asks} Look at the machine and say so there before {until}, or {then}. It cannot be answered from here.</p>"
        );
    }
    for notice in &now.notices {
        let _ = write!(out, "<p class=\"faint\">{}</p>", safe(notice));
    }
    let _ = write!(out, "<h1>{}</h1><div class=\"two\"><div>", safe(&now.headline));
    if let LinkNow::Down { why } = &now.machine.link {
        let _ = write!(out, "<p class=\"call\">The controller does not answer. {}</p>", safe(why));
    }
    match &now.sheet {
        Some(sheet) => sheet_block(&mut out, now, sheet, &clock),
        None => {
            let _ = write!(out, "<p>No sheet is on the machine. {} wait.</p>", now.waiting);
        }
    }
    if let Some(task) = &now.task {
        let _ = write!(
            out,
            "<h2>At the machine now</h2><p>{}, step {} of {}.</p>",
            safe(&task.title),
            task.number,
            task.of
        );
    }
    needed_block(&mut out, plan, &zone);
    if now.sheet.as_ref().is_some_and(|s| s.stage == Stage::Cutting) {
        out.push_str("<h2>Hold</h2><form method=\"post\" action=\"/hold\"><button>Hold at the next lift</button></form><p class=\"faint\">The bit cuts on until it next leaves the wood, then it waits; it keeps turning where it is switched by hand. Somebody is called to the machine. This is no emergency stop.</p>");
    }
    out.push_str("</div><div>");
    if let Some(drawing) = drawing {
        draw(&mut out, drawing);
    }
    let people: Vec<String> = now.people.iter().map(|p| safe(&p.who.0)).collect();
    let here = if people.is_empty() {
        "nobody is signed in at the machine".to_owned()
    } else {
        format!("at the machine: {}", people.join(", "))
    };
    let _ = write!(
        out,
        "</div></div><footer class=\"faint\">{here}. For trouble: the red button, {}. This page is no safety device and moves nothing.</footer></main></body></html>",
        safe(&now.machine.red_button)
    );
    out
}

fn sheet_block(out: &mut String, now: &Now, sheet: &SheetNow, clock: &dyn Fn(DateTime<Utc>) -> String) {
    let _ = write!(
        out,
        "<dl><dt>Sheet</dt><dd>{}, {} of {}</dd><dt>Card</dt><dd>{}</dd><dt>Stage</dt><dd>{}</dd>",
        safe(&sheet.id.0),
        sheet.number,
        sheet.of,
        safe(&sheet.title),
        sheet.stage.word()
    );
    if let Some(operation) = &sheet.operation {
        let _ = write!(
            out,
            "<dt>Operation</dt><dd>{}, {} of {}</dd><dt>Bit</dt><dd>{}</dd>",
            safe(&operation.name),
            operation.index.saturating_add(1),
            operation.of,
            safe(&operation.bit_title)
        );
        out.push_str("</dl>");
        if sheet.stage == Stage::Cutting {
            let at = |machine_seconds: f64| {
                let real = machine_seconds / now.machine.rate.max(0.001);
                now.at + TimeDelta::milliseconds((real * 1000.0).clamp(0.0, 1.0e12) as i64)
            };
            let _ = write!(out, "<p class=\"when\">until about {}</p>", clock(at(operation.left.value())));
            if let Some(lift) = operation.next_lift {
                let _ =
                    write!(out, "<p class=\"faint\">next lift out of the wood about {}</p>", clock(at(lift.value())));
            }
        }
    } else {
        out.push_str("</dl>");
    }
    if let Some(stopped) = &sheet.stopped {
        let _ = write!(
            out,
            "<p class=\"call\">Stopped. {} A person at the machine decides.</p>",
            safe(&stopped.record.text)
        );
    }
    if let Some(held) = &sheet.held {
        let bit = if held.bit_in_cut && !held.raised { " The bit stands in the cut and may burn it." } else { "" };
        let _ = write!(out, "<p class=\"call\">Held.{bit}</p>");
    }
}

fn needed_block(out: &mut String, plan: Option<&DayPlan>, zone: &Tz) {
    out.push_str("<h2>Somebody is needed</h2>");
    let Some(plan) = plan else {
        out.push_str("<p class=\"faint\">The plan is not there just now.</p>");
        return;
    };
    if plan.needed.is_empty() {
        out.push_str("<p>Nobody is, as planned.</p>");
        return;
    }
    out.push_str("<ul>");
    for needed in plan.needed.iter().take(NEEDED_SHOWN) {
        let local = |at: DateTime<Utc>| at.with_timezone(zone);
        let tasks: Vec<String> = needed.tasks.iter().map(|t| safe(&t.to_string())).collect();
        let _ = write!(
            out,
            "<li><strong>{}</strong> to {}: {}</li>",
            local(needed.from).format("%a %H:%M"),
            local(needed.to).format("%H:%M"),
            tasks.join("; ")
        );
    }
    out.push_str("</ul>");
}

/// The sheet seen from above; its near edge is at the bottom. Cut through: whole lines. Pockets and slots: broken ones.
fn draw(out: &mut String, drawing: &Drawing) {
    let ([width, height], [x, y]) = (drawing.size.map(|l| l.mm()), [drawing.corner.x.mm(), drawing.corner.y.mm()]);
    let _ = write!(
        out,
        "<svg viewBox=\"-6 -6 {:.0} {:.0}\" width=\"320\" fill=\"none\" stroke=\"currentColor\" role=\"img\" aria-label=\"The sheet from above, {width:.0} by {height:.0} mm\"><rect class=\"edge\" x=\"0\" y=\"0\" width=\"{width:.1}\" height=\"{height:.1}\"/>",
        width + 12.0,
        height + 12.0
    );
    let start = out.len();
    let mut left_out = drawing.paths.len().saturating_sub(PATHS_MOST);
    for (i, path) in drawing.paths.iter().take(PATHS_MOST).enumerate() {
        if out.len() - start > DRAWING_MOST {
            left_out += drawing.paths.len().min(PATHS_MOST) - i;
            break;
        }
        let class = if path.through { "through" } else { "part" };
        let _ = write!(out, "<polyline class=\"{class}\" points=\"");
        let mut before: Option<[f64; 2]> = None;
        for (n, point) in path.points.iter().enumerate() {
            let at = point.map(f64::from);
            // points nearer than a screen can show are left out, but for the last
            let near = before.is_some_and(|b| (b[0] - at[0]).hypot(b[1] - at[1]) < 1.5);
            if near && n + 1 < path.points.len() {
                continue;
            }
            before = Some(at);
            let _ = write!(out, "{:.0},{:.0} ", at[0] - x, height - (at[1] - y));
        }
        out.push_str("\"/>");
    }
    for fastener in &drawing.fasteners {
        let (fx, fy) = (fastener.at.x.mm() - x, height - (fastener.at.y.mm() - y));
        let _ = write!(
            out,
            "<circle class=\"fastener\" cx=\"{fx:.1}\" cy=\"{fy:.1}\" r=\"{:.1}\"/>",
            (fastener.head.mm() / 2.0).max(2.0)
        );
    }
    out.push_str("</svg>");
    if left_out > 0 {
        let _ = write!(out, "<p class=\"faint\">{left_out} more cuts are not drawn here.</p>");
    }
}

/// Text as HTML holds it.
fn safe(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}
