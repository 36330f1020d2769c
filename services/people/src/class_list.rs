//! A class list: one person a line.

use wire::people::{Invite, Role};

/// Why a line cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ClassFault {
    /// It lacks the name or the sign-in name.
    TooShort,
    /// Its third part is no role.
    Role(String),
}

/// Reads a class list: name, sign-in name, and a role where it is another than student; commas, semicolons or tabs. Each
/// line that is not empty, with its number counted from 1.
#[must_use]
pub fn class_list(text: &str) -> Vec<(usize, Result<Invite, ClassFault>)> {
    let text = text.trim_start_matches('\u{feff}');
    let lines = (1..).zip(text.lines()).filter(|(_, line)| !line.trim().is_empty());
    lines.map(|(number, text)| (number, line(text))).collect()
}

fn line(line: &str) -> Result<Invite, ClassFault> {
    let mut parts = line.split([',', ';', '\t']).map(|part| part.trim().trim_matches('"').to_owned());
    let (Some(name), Some(sign_in_name)) = (parts.next(), parts.next()) else {
        return Err(ClassFault::TooShort);
    };
    let role = match parts.next().filter(|role| !role.is_empty()) {
        None => Role::Student,
        Some(role) => role.to_lowercase().parse().map_err(|_| ClassFault::Role(role))?,
    };
    Ok(Invite { sign_in_name, name, role })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_class_is_one_line_a_person() {
        let mira = line("Mira Okafor, mira.okafor").unwrap();
        assert_eq!(
            (mira.name.as_str(), mira.sign_in_name.as_str(), mira.role),
            ("Mira Okafor", "mira.okafor", Role::Student)
        );
        assert_eq!(line("\"Jo Vane\";jo.vane;instructor").unwrap().role, Role::Instructor);
        assert_eq!(line("Only a name").unwrap_err(), ClassFault::TooShort);
        assert_eq!(line("A, b.c, wizard").unwrap_err(), ClassFault::Role("wizard".into()));
    }

    #[test]
    fn empty_lines_count_and_are_passed_over() {
        let lines: Vec<usize> =
            class_list("\u{feff}A, a.b\r\n\r\nC, c.d\n").iter().map(|(line, _)| *line).collect();
        assert_eq!(lines, [1, 3]);
    }
}
